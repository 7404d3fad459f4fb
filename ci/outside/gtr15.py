"""Writes the vehicles and shifts of a GTR 15 gear calculation as two small tables.

usage: gtr15.py INPUT_XLSX RESULT_FOLDER OUT_FOLDER
"""
import pathlib
import sys

import openpyxl

SOURCE = "# wltp-gearshift 1.1.3, demo gs_input_demo.xlsx (EUPL 1.1 or later), computed by ci/outside/gtr15.sh: "


def sheet(book, name, first):
    """Rows of a sheet as dictionaries; data begin at row index `first`."""
    rows = list(book[name].iter_rows(values_only=True))
    head = [str(cell).strip() for cell in rows[0]]
    return [dict(zip(head, row)) for row in rows[first:]]


def number(value):
    return format(float(value), ".10g")


def main():
    source, results, out = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
    book = openpyxl.load_workbook(source, read_only=True, data_only=True)
    cases = {int(row["case"]): int(row["vehicle"]) for row in sheet(book, "case", 2)}
    vehicles = {int(row["vehicle"]): row for row in sheet(book, "vehicle", 2)}
    per_kmh = {}
    for row in sheet(book, "gearbox_ratios", 2):
        per_kmh.setdefault(int(row["vehicle"]), {})[int(row["gear"])] = float(row["ndv"])
    about = [SOURCE + "vehicles.", "case,idle_rpm,rated_rpm,rpm_per_kmh..."]
    shifts = [
        SOURCE + "each change of gear between two seconds, and with from = to each second inside",
        "# a gear from third on, clutch closed, in which the engine turns below idle + 0.125 (rated - idle).",
        "case,t_s,speed_kmh,from,to",
    ]
    for case in sorted(cases):
        vehicle, ratios = vehicles[cases[case]], per_kmh[cases[case]]
        idle, rated = float(vehicle["n_idle"]), float(vehicle["n_rated"])
        about.append(",".join([str(case), number(idle), number(rated)] + [number(ratios[g]) for g in sorted(ratios)]))
        result = openpyxl.load_workbook(next(results.glob(f"*-{case}.xlsx")), read_only=True, data_only=True)
        before = 0
        for t_s, row in enumerate(sheet(result, "Time Series", 1)):
            gear, kmh = int(row["Gears Output"]), float(row["Required Vehicle Speeds Output"])
            low = gear >= 3 and not int(row["Clutch Disengaged Output"]) and kmh * ratios[gear] < idle + 0.125 * (rated - idle) - 1e-9
            if gear != before:
                shifts.append(f"{case},{t_s},{number(kmh)},{before},{gear}")
            elif low:
                shifts.append(f"{case},{t_s},{number(kmh)},{gear},{gear}")
            before = gear
    (out / "gtr15-vehicles.csv").write_text("\n".join(about) + "\n")
    (out / "gtr15-shifts.csv").write_text("\n".join(shifts) + "\n")


main()
