//! A child process and its end: it runs in a process group of its own, what it says on standard error is kept, and
//! it never outlives its port.

use nix::fcntl::{FcntlArg, OFlag, fcntl};
use nix::sys::signal::{Signal, killpg};
use nix::sys::wait::{Id, WaitPidFlag, WaitStatus, waitid};
use nix::unistd::Pid;
use std::collections::VecDeque;
use std::io::Read;
use std::os::fd::{AsFd, BorrowedFd};
use std::os::unix::process::CommandExt;
use std::process::{ChildStderr, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Of standard error, this many bytes are kept: the last ones.
const KEPT_BYTES: usize = 64 * 1024;
/// How often the end of a process is looked for.
const LOOK: Duration = Duration::from_millis(2);
/// Looks before the next, harsher step: after closing its input, and after asking it to end.
const LOOKS: u32 = 125;

/// A running process.
pub(super) struct Child {
    process: std::process::Child,
    group: Pid,
    /// Its input, until closed. Neither writing to it nor reading its output ever waits.
    pub stdin: Option<ChildStdin>,
    /// Its output.
    pub stdout: ChildStdout,
    said: Arc<Mutex<VecDeque<u8>>>,
    listener: Option<JoinHandle<()>>,
    /// Its status is taken: its number may belong to another by now.
    gone: bool,
}

impl Child {
    /// Starts a command.
    ///
    /// # Errors
    /// A sentence on why it didn't start.
    pub fn start(words: &[String]) -> Result<Self, String> {
        let (program, arguments) = words.split_first().ok_or("there is no command")?;
        let mut process = Command::new(program)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .process_group(0)
            .spawn()
            .map_err(|error| match error.kind() {
                std::io::ErrorKind::NotFound => format!("there is no program \"{program}\""),
                std::io::ErrorKind::PermissionDenied => format!("\"{program}\" may not be executed"),
                _ => format!("\"{program}\" did not start: {error}"),
            })?;
        let group = Pid::from_raw(process.id().cast_signed());
        let said = Arc::new(Mutex::new(VecDeque::new()));
        let (stdin, stdout, stderr) = (process.stdin.take(), process.stdout.take(), process.stderr.take());
        let (Some(stdout), Some(stderr)) = (stdout, stderr) else { return Err("it has no output".to_owned()) };
        // Our ends only: the program's own ends wait as ever.
        let waits_never = |end: BorrowedFd<'_>| fcntl(end, FcntlArg::F_SETFL(OFlag::O_NONBLOCK));
        stdin
            .as_ref()
            .map_or(Ok(0), |stdin| waits_never(stdin.as_fd()))
            .and_then(|_| waits_never(stdout.as_fd()))
            .map_err(|error| format!("its pipes can't be set up: {error}"))?;
        let listener = std::thread::Builder::new()
            .name("stderr".to_owned())
            .spawn({
                let said = Arc::clone(&said);
                move || listen(stderr, &said)
            })
            .ok();
        Ok(Self { process, group, stdin, stdout, said, listener, gone: false })
    }

    /// Its process number.
    pub fn id(&self) -> u32 {
        self.process.id()
    }

    /// Whether it has ended, without taking its status: until then nobody else can get its number.
    fn has_ended(&self) -> bool {
        let flags = WaitPidFlag::WEXITED | WaitPidFlag::WNOHANG | WaitPidFlag::WNOWAIT;
        !matches!(waitid(Id::Pid(self.group), flags), Ok(WaitStatus::StillAlive))
    }

    fn wait_for_end(&self) -> bool {
        (0..LOOKS).any(|_| {
            let ended = self.has_ended();
            if !ended {
                std::thread::sleep(LOOK);
            }
            ended
        })
    }

    /// How it ended; `None` while it runs on.
    pub fn ending(&mut self) -> Option<String> {
        if self.gone || !self.wait_for_end() {
            return None;
        }
        // Others in its group go with it, so that standard error comes to its end.
        let _ = killpg(self.group, Signal::SIGKILL);
        self.gone = true;
        let how = match self.process.try_wait() {
            Ok(Some(status)) => {
                use std::os::unix::process::ExitStatusExt;
                match (status.code(), status.signal()) {
                    (Some(code), _) => format!("exit code {code}"),
                    (None, Some(signal)) => {
                        Signal::try_from(signal).map_or_else(|_| format!("signal {signal}"), |s| s.to_string())
                    }
                    (None, None) => "unknown".to_owned(),
                }
            }
            _ => "unknown".to_owned(),
        };
        if let Some(listener) = self.listener.take() {
            for _ in 0..LOOKS {
                if listener.is_finished() {
                    break;
                }
                std::thread::sleep(LOOK);
            }
        }
        Some(how)
    }

    /// What it last said on standard error: the last line that isn't blank, for a message.
    pub fn last_words(&self) -> String {
        let said: Vec<u8> = lock(&self.said).iter().copied().collect();
        let line = said.split(|&b| b == b'\n').rev().find(|line| !line.trim_ascii().is_empty());
        line.map_or(String::new(), |line| format!("; it last said: {}", super::wire::excerpt(line)))
    }

    /// All that is kept of its standard error.
    pub fn stderr(&self) -> String {
        let said: Vec<u8> = lock(&self.said).iter().copied().collect();
        String::from_utf8_lossy(&said).into_owned()
    }
}

impl Drop for Child {
    /// Closes its input, asks it to end, ends it; the whole group each time.
    fn drop(&mut self) {
        drop(self.stdin.take());
        if self.gone {
            return;
        }
        if !self.wait_for_end() {
            let _ = killpg(self.group, Signal::SIGTERM);
            self.wait_for_end();
        }
        let _ = killpg(self.group, Signal::SIGKILL);
        let _ = self.process.wait();
    }
}

fn lock(said: &Mutex<VecDeque<u8>>) -> MutexGuard<'_, VecDeque<u8>> {
    said.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Reads standard error to its end, so that a talkative process never waits for us.
fn listen(mut stderr: ChildStderr, said: &Mutex<VecDeque<u8>>) {
    let mut piece = [0; 4096];
    loop {
        match stderr.read(&mut piece) {
            Ok(0) => return,
            Ok(count) => {
                let mut said = lock(said);
                said.extend(piece.iter().take(count));
                let excess = said.len().saturating_sub(KEPT_BYTES);
                said.drain(..excess);
            }
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(_) => return,
        }
    }
}
