/* A cautious box in C: whole numbers only, speeds through a median of three, both the median and the newest reading
 * must ask for a shift, engages late and lets go early. It serves levers and buttons, contacts and requests, and no
 * gear signal: after a tap of the driver it knows no gear until the lever comes into the gate again. One process can
 * be many boxes at once: all that changes stands in a struct, and there is one for each.
 *
 * cc -O2 -o cautious cautious.c; the line protocol is read by looking for its words, which is all it needs. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { POSITIONS = 64, LINES = 18, GEARS = 12, LONG = 1 << 18, INSTANCES = 64 };
enum state { OUT, ARMED, ENGAGED };

static char read[LONG], *text = read; /* A line; where it is a list, an entry of it. */

/* The hello. Speeds and pedal positions in thousandths. */
static long pedal_at[POSITIONS], line_at[LINES][POSITIONS];
static int positions, lines, from[LINES], to[LINES];
static long rpm_milli[GEARS];
static int gears, top, lowest, entry, downs_itself, by_button, shared, asks, announces;
static long redline, ceiling, bounce, held, fresh, lost, blind, dwell, still, fall, rise, width, plausible, quiet;
static long window, pauses, range_limit, high_for;

static const char *after(const char *in, const char *key) {
    const char *at = in ? strstr(in, key) : NULL;
    return at ? at + strlen(key) : NULL;
}

/* A decimal number in thousandths. */
static long milli(const char *at) { return at ? (long)(strtod(at, NULL) * 1000 + (*at == '-' ? -0.5 : 0.5)) : 0; }
static long whole(const char *key, long otherwise) {
    const char *at = after(text, key);
    return at ? strtol(at, NULL, 10) : otherwise;
}

static int list(const char *at, long *into, int most) {
    int n = 0;
    while (at && *at && *at != ']' && n < most) {
        into[n++] = milli(at);
        at += strcspn(at, ",]");
        if (*at == ',') at++;
    }
    return n;
}

static void hello(void) {
    const char *at = after(text, "\"lines\":[");
    positions = list(after(text, "\"pedal_pct\":["), pedal_at, POSITIONS);
    for (lines = 0; lines < LINES && (at = after(at, "\"from\":")) != NULL; lines++) {
        from[lines] = atoi(at);
        to[lines] = atoi(after(at, "\"to\":"));
        list(after(at, "\"speed_kmh\":["), line_at[lines], POSITIONS);
    }
    gears = list(after(text, "\"rpm_per_kmh\":["), rpm_milli, GEARS);
    redline = milli(after(text, "\"redline_rpm\":"));
    ceiling = milli(after(text, "\"ceiling_kmh\":"));
    still = milli(after(text, "\"standstill_kmh\":"));
    fall = milli(after(text, "\"fall_limit_kmh_per_s\":"));
    rise = milli(after(text, "\"rise_limit_kmh_per_s\":"));
    top = (int)whole("\"top_gear\":", 0);
    lowest = (int)whole("\"lowest_gear\":", 2);
    entry = (int)whole("\"entry\":{\"fixed\":", 0);
    bounce = whole("\"lever_bounce_ms\":", 30);
    held = whole("\"conditions_held_ms\":", 200);
    fresh = whole("\"data_fresh_ms\":", 500);
    lost = whole("\"data_lost_ms\":", 1000);
    blind = whole("\"shift_blind_ms\":", 1000);
    dwell = whole("\"opposite_dwell_ms\":", 2000);
    plausible = whole("\"plausible_for_ms\":", 500);
    quiet = whole("\"quiet_after_engaging_ms\":", 500);
    window = whole("\"after_edge\":{\"within-ms\":", 1L << 40);
    high_for = whole("\"range_high_for_ms\":", 1000);
    pauses = whole("\"driver_tap\":{\"pauses-ms\":", -1);
    downs_itself = strstr(text, "\"shifts_down_itself\":true") != NULL;
    range_limit = strstr(text, "\"gate\":\"range-limit\"") != NULL;
    by_button = strstr(text, "\"take_over\":\"button\"") != NULL;
    shared = strstr(text, "\"tap_wiring\":\"shared\"") != NULL;
    announces = strstr(text, "\"announces\":true") != NULL;
    asks = strstr(text, "\"answers\":{\"requests\"") != NULL;
    width = asks ? whole("\"width_ms\":", 120) : 150;
    if (width > whole("\"longest_pulse_ms\":", 250)) width = whole("\"longest_pulse_ms\":", 250);
}

/* All that changes, of each instance; `s` is the one whose turn it is. Times in ms since power-up. */
static struct {
    enum state state;
    int first, gear, ready, engaged_before, taps_since, button, false_still, last_way;
    long speeds[3], n_speeds, speed_at, pedal, pedal_at, leapt_at, still_at;
    long low_at, out_at, edge_at, right_at, engaged_at, pause_until, last_at, up_at, down_at, own_until;
    int in_gate;
    long engagements[5];
    const char *say;
    uint64_t clock;
} boxes[INSTANCES], *s = boxes;

static const long NEVER = -1000000000;

static void reset(void) {
    memset(s, 0, sizeof *s);
    s->first = s->button = 1;
    s->low_at = s->speed_at = s->pedal_at = s->leapt_at = s->edge_at = s->pause_until = s->last_at = s->up_at = s->down_at = NEVER;
    s->still_at = s->right_at = s->out_at = -1;
    s->own_until = s->engaged_at = NEVER;
    for (int i = 0; i < 5; i++) s->engagements[i] = NEVER;
}

static long newest(void) { return s->speeds[0]; }

static long median(void) {
    long a = s->speeds[0], b = s->speeds[1], c = s->speeds[2];
    if (s->n_speeds < 3) return a;
    return a > b ? (b > c ? b : a > c ? c : a) : (a > c ? a : b > c ? c : b);
}

/* The speed of a line at the pedal read, in thousandths of km/h; -1: there is none. Rounded against shifting. */
static long line(int low, int high) {
    for (int i = 0; i < lines; i++) {
        if (from[i] != low || to[i] != high) continue;
        int r = 1;
        while (r < positions - 1 && pedal_at[r] < s->pedal) r++;
        long span = pedal_at[r] - pedal_at[r - 1], into = s->pedal - pedal_at[r - 1];
        long long rise_by = (long long)(line_at[i][r] - line_at[i][r - 1]) * into;
        long long rounded = rise_by >= 0 ? (rise_by + span / 2) / span : (rise_by - span / 2) / span;
        return line_at[i][r - 1] + (long)rounded;
    }
    return -1;
}

static void read_speed(long value, long at) {
    if (s->n_speeds > 0) {
        long ms = at > s->speed_at ? at - s->speed_at : 0;
        int fell = newest() - value > fall * ms / 1000 + 2000, rose = value - newest() > rise * ms / 1000 + 2000;
        if (fell || rose) s->leapt_at = at;
        s->false_still = (s->false_still || fell) && value <= still;
    }
    if (value > still) s->still_at = -1;
    else if (s->still_at < 0) s->still_at = at;
    s->speeds[2] = s->speeds[1];
    s->speeds[1] = s->speeds[0];
    s->speeds[0] = value;
    if (s->n_speeds < 3) s->n_speeds++;
    s->speed_at = at;
}

static void read_answers(void) {
    const char *at = after(text, "\"answers\":[");
    while ((at = after(at, "{\"signal\":\"")) != NULL) {
        const char *end = strchr(at, '}'), *value = after(at, "\"value\":"), *arrival = after(at, "\"arrival\":");
        if (!end || !arrival || !value || value > end || (*value != '-' && (*value < '0' || *value > '9'))) continue;
        long v = milli(value), when = (long)(int64_t)(strtoull(arrival, NULL, 10) - s->clock);
        if (*at == 's' && v >= 0 && v <= 255000) read_speed(v, when);
        else if (at[0] == 'p' && v >= 0 && v <= 100000) s->pedal = v, s->pedal_at = when;
    }
}

static long age(long now) { return now - (s->speed_at < s->pedal_at ? s->speed_at : s->pedal_at); }

static int entry_gear(void) {
    if (!entry || !s->n_speeds) return 0;
    for (int g = entry; g <= top && g <= gears; g++)
        if (rpm_milli[g - 1] * (newest() / 1000) <= redline) return g;
    return top;
}

static void let_go(const char *why) {
    if (s->state == ENGAGED) s->say = why;
    s->state = OUT;
    s->edge_at = NEVER;
    s->right_at = -1;
    s->pause_until = NEVER;
}

static void lever(long now) {
    int there = strstr(text, "\"lever\":\"gate\"") != NULL;
    if (s->first) {
        s->in_gate = there;
        s->out_at = there ? -1 : NEVER;
        s->first = 0;
    }
    if (!there) {
        if (s->out_at == -1) s->out_at = now;
        if (now - s->out_at >= bounce) {
            if (s->state == ENGAGED) let_go("disengaged");
            s->state = OUT;
            s->gear = 0;
        }
    } else if (s->out_at != -1) {
        long out = now - s->out_at;
        s->out_at = -1;
        if (out >= bounce) {
            s->gear = entry_gear();
            s->taps_since = 0;
            /* What ran as the lever came may last so long; a command of its own counts for the whole time. */
            if (now - blind + 600 > s->last_at) s->last_at = now - blind + 600;
            if (!by_button && out >= 250) s->state = ARMED, s->edge_at = now, s->right_at = -1;
        }
    }
    s->in_gate = there;
    if (by_button) {
        int pressed = strstr(text, "\"button\":true") != NULL;
        if (pressed && !s->button && there && s->state != ENGAGED) {
            /* Pressed again, it goes on waiting: what has been right stays right. */
            if (s->state != ARMED) s->right_at = -1;
            s->state = ARMED, s->edge_at = now;
        }
        s->button = pressed;
    }
}

static int tapped(long now) {
    int up = strstr(text, "\"tap_up\":true") || !strstr(text, "\"tap_up_edges\":0");
    int down = strstr(text, "\"tap_down\":true") || !strstr(text, "\"tap_down_edges\":0");
    if (shared && now < s->own_until) {
        if (s->last_way > 0) up = 0;
        else down = 0;
    }
    return up || down;
}

static int due(long now) {
    if (!s->gear || s->taps_since || !s->in_gate || s->n_speeds < 3 || age(now) > fresh - 100) return 0;
    if (now - s->leapt_at < plausible + 100 || newest() <= still || now - s->last_at < blind + 100) return 0;
    if (now - s->engaged_at < quiet + 100) return 0;
    long low = median() < newest() ? median() : newest(), high = median() > newest() ? median() : newest();
    if (s->gear < top) {
        long at = line(s->gear, s->gear + 1);
        if (at >= 0 && low >= at && now - s->down_at >= dwell + 100) return 1;
    }
    if (s->gear > lowest) {
        long at = line(s->gear, s->gear - 1);
        if (at >= 0 && high <= at && now - s->up_at >= dwell + 100) return -1;
    }
    return 0;
}

static void tick(void) {
    const char *at = after(text, "\"t\":");
    uint64_t clock = strtoull(at, NULL, 10);
    if (s->first) s->clock = clock;
    long now = (long)(int64_t)(clock - s->clock);
    read_answers();
    lever(now);
    int range_bad = strstr(text, "\"range\":\"transit\"") || strstr(text, "\"range\":\"low\"");
    int off = strstr(text, "\"ignition\":false") != NULL, taps = tapped(now);
    if (taps) s->taps_since = 1;
    if (range_bad) s->low_at = now;
    /* A take-over counts once the range has settled. */
    if (s->state == ARMED && now - s->low_at < high_for + 50) s->state = OUT;
    if (s->state == ENGAGED) {
        if (off || range_bad || age(now) > lost - 150) let_go("fault");
        else if (taps && pauses < 0) let_go("disengaged");
        else if (taps) s->pause_until = now + pauses + 200;
    } else if (s->state == ARMED) {
        int right = s->in_gate && !off && !range_bad && !taps && age(now) <= fresh - 50 && newest() <= ceiling;
        int many = now - s->engagements[4] < 10000;
        if (taps || now - s->edge_at > window) s->state = OUT;
        else if (!right) s->right_at = -1;
        else if (s->right_at < 0) s->right_at = now;
        else if (now - s->right_at >= held + 400 && !many) {
            s->state = ENGAGED;
            s->engaged_at = now;
            memmove(s->engagements + 1, s->engagements, 4 * sizeof *s->engagements);
            s->engagements[0] = now;
            if (!s->gear && !s->taps_since) s->gear = entry_gear();
            s->say = "engaged";
        }
    }
    if (downs_itself && s->still_at >= 0 && now - s->still_at >= (s->false_still ? 4500 : 1200) && s->gear > lowest)
        s->gear = lowest;
    int may = s->state == ENGAGED && now >= s->pause_until, way = may ? due(now) : 0;
    if (way) {
        s->gear += way;
        s->last_way = way;
        s->last_at = now;
        *(way > 0 ? &s->up_at : &s->down_at) = now;
        s->own_until = now + width + 60;
    }
    int pulse = may && s->last_way && now - s->last_at < width;
    printf("\"t\":%llu,\"engaged\":%s", (unsigned long long)clock, may ? "true" : "false");
    if (asks) {
        if (way) printf(",\"request\":\"%s\"", way > 0 ? "up" : "down");
    } else {
        printf(",\"up\":%s,\"down\":%s", pulse && s->last_way > 0 ? "true" : "false",
               pulse && s->last_way < 0 ? "true" : "false");
    }
    if (announces && !s->say && !s->ready && s->n_speeds && s->pedal_at != NEVER) s->say = "ready", s->ready = 1;
    if (announces && s->say) printf(",\"announce\":\"%s\"", s->say);
    s->say = NULL;
}

static void answer(void) {
    if (strstr(text, "\"reset\"")) {
        reset();
        printf("\"reset\":\"done\"");
    } else {
        tick();
    }
    putchar('}');
}

/* Where the object that starts here ends; no text in it holds a bracket. */
static char *end_of(char *at) {
    int depth = 0;
    for (; *at; at++) {
        if (*at == '{') depth++;
        if (*at == '}' && --depth == 0) return at + 1;
    }
    return NULL;
}

/* The entries of a list, each for the instance that it names, answered in the same order. */
static void answer_list(void) {
    char before = '[';
    for (char *at = read, *end; (at = strchr(at, '{')) && (end = end_of(at)); at = end + 1) {
        text = at;
        *end = '\0'; /* in place of the comma or the bracket that closes the list */
        int i = (int)whole("\"i\":", 0);
        if (i < 0 || i >= INSTANCES) exit(1);
        s = boxes + i;
        printf("%c{\"i\":%d,", before, i);
        answer();
        before = ',';
    }
    printf("]\n");
    text = read;
    s = boxes;
}

int main(void) {
    for (s = boxes; s < boxes + INSTANCES; s++) reset();
    s = boxes;
    while (fgets(text, sizeof read, stdin)) {
        if (strstr(text, "\"sprag\"")) {
            hello();
            printf("{\"hello\":{\"protocol\":[1,3],\"name\":\"cautious\",\"version\":\"1\",\"answers\":\"%s\","
                   "\"reset\":true,\"instances\":%d}}\n", asks ? "requests" : "contacts", INSTANCES);
        } else if (text[0] == '[') {
            answer_list();
        } else {
            putchar('{');
            answer();
            putchar('\n');
        }
        fflush(stdout);
    }
    return 0;
}
