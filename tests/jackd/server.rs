//! A JACK server of a test's own, on the driver that keeps time without a sound card.
//!
//! libjack reads the server's name from the environment, which a running program cannot change safely, so a
//! test that needs a server runs itself once more as a child with the name set.

use std::os::unix::process::CommandExt as _;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process, kill_process_group};

/// Where libjack reads the name of the server.
const SERVER: &str = "JACK_DEFAULT_SERVER";

/// Set in the child only.
const IN_CHILD: &str = "COUNTLINE_TEST_HAS_JACK";

/// A child that takes longer hangs.
const PATIENCE: Duration = Duration::from_secs(180);

/// What a child that is asked to end may take for it.
const TO_END: Duration = Duration::from_secs(5);

/// Blocks short enough to show what a block does to a stamp.
const BLOCK: u32 = 256;

/// How often a measurement that was disturbed is made at least.
const ATTEMPTS: u32 = 8;

/// Until when one that was disturbed is made again: many short ones are made in it.
const NOT_AGAIN_AFTER: Duration = Duration::from_secs(90);

/// Two servers at once would disturb each other on a small machine.
static ALONE: Mutex<()> = Mutex::new(());

/// A server that runs until it is dropped.
#[derive(Debug)]
pub struct Server {
    name: String,
    process: Child,
}

impl Server {
    /// Starts a server of 48,000 frames a second and blocks of 256, synchronous and with real-time
    /// priority where the system grants it: otherwise frames are lost.
    ///
    /// # Panics
    /// If there is no jackd: what is to be tested cannot be, which is a failure and nothing to skip.
    #[must_use]
    pub fn named(name: &str) -> Self {
        Self::of_blocks(BLOCK, name)
    }

    /// The same with blocks of another length, in frames.
    ///
    /// # Panics
    /// If there is no jackd.
    #[must_use]
    pub fn of_blocks(frames: u32, name: &str) -> Self {
        // Should the test be killed, its server ends with it: one left behind would disturb every later test.
        let process = Command::new("setpriv")
            .args([
                "--pdeathsig",
                "TERM",
                "jackd",
                "-R",
                "-P",
                "60",
                "-n",
                name,
                "-S",
                "-d",
                "dummy",
                "-r",
                "48000",
                "-p",
                &frames.to_string(),
            ])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("setpriv runs (on Debian: util-linux)");
        let mut server = Self { name: name.to_owned(), process };
        server.wait();
        server
    }

    fn wait(&mut self) {
        let begun = Instant::now();
        loop {
            let ended = self.process.try_wait().expect("a child can be asked");
            assert!(
                ended.is_none(),
                "jackd is not there or ended at once ({ended:?}): install it (on Debian: jackd2)"
            );
            let answer = Command::new("jack_wait")
                .args(["-s", &self.name, "-c"])
                .stderr(Stdio::null())
                .output()
                .expect("jack_wait runs: install it (on Debian: jackd2 or jack-example-tools)");
            if String::from_utf8_lossy(&answer.stdout).starts_with("running") {
                return;
            }
            assert!(begun.elapsed() < Duration::from_secs(10), "jackd does not answer");
            sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Server {
    /// Asks it to end, because a killed server leaves its memory behind; kills it where it does not.
    fn drop(&mut self) {
        end(&mut self.process);
    }
}

/// Runs `body` with a server of its own: in a child process that runs only the test named `test`.
///
/// # Panics
/// If the server does not start, or the child fails or hangs.
pub fn on_server(test: &str, body: impl FnOnce()) {
    on_server_of_blocks(BLOCK, test, body);
}

/// The same with blocks of another length, in frames: long ones outlast a busy machine's pauses.
///
/// # Panics
/// If the server does not start, or the child fails or hangs.
pub fn on_server_of_blocks(frames: u32, test: &str, body: impl FnOnce()) {
    on_named_server(test, |server| {
        let _server = Server::of_blocks(frames, server);
        body();
    });
}

/// The same, but `body` is given the name and starts the server itself, and may stop it and start it again.
///
/// # Panics
/// If the child fails or hangs.
pub fn on_named_server(test: &str, body: impl FnOnce(&str)) {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    if let (Ok(name), true) = (std::env::var(SERVER), std::env::var_os(IN_CHILD).is_some()) {
        return body(&name);
    }
    let _alone = ALONE.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let name = format!("countline-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let mut child = Command::new(std::env::current_exe().expect("a test knows its own file"))
        .args(["--exact", test, "--nocapture", "--test-threads=1"])
        .env(SERVER, &name)
        .env(IN_CHILD, "1")
        .process_group(0)
        .spawn()
        .expect("a test can run itself");
    let status = within_patience(&mut child);
    assert!(status.success(), "{test} on a server of its own: {status}");
}

fn within_patience(child: &mut Child) -> ExitStatus {
    let begun = Instant::now();
    loop {
        if let Some(status) = child.try_wait().expect("a child can be asked") {
            return status;
        }
        if begun.elapsed() > PATIENCE {
            // It and the server it started are one group.
            kill_process_group(Pid::from_child(child), Signal::KILL).ok();
            child.wait().ok();
            panic!("hangs: not done after {PATIENCE:?}");
        }
        sleep(Duration::from_millis(20));
    }
}

/// Asks a child to end, and kills it where it has not after some seconds.
pub fn end(child: &mut Child) {
    kill_process(Pid::from_child(child), Signal::TERM).ok();
    let asked = Instant::now();
    while asked.elapsed() < TO_END {
        if !matches!(child.try_wait(), Ok(None)) {
            return;
        }
        sleep(Duration::from_millis(10));
    }
    child.kill().ok();
    child.wait().ok();
}

/// Sound was lost while something was measured, so the measurement says nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dropout(pub String);

/// Measures; after a dropout again, eight times and for as long as 90 seconds are not over, each told: a virtual
/// machine can lose sound for a minute on end. Any other fault fails at once.
///
/// # Panics
/// Where every one was disturbed.
#[expect(clippy::print_stderr, reason = "whoever runs the tests should see that the machine was too busy")]
pub fn undisturbed<T>(mut measure: impl FnMut() -> Result<T, Dropout>) -> T {
    let begun = Instant::now();
    for attempt in 1.. {
        match measure() {
            Ok(measured) => return measured,
            Err(Dropout(how)) => {
                eprintln!("attempt {attempt} was disturbed by a dropout: {how}");
                assert!(
                    attempt < ATTEMPTS || begun.elapsed() < NOT_AGAIN_AFTER,
                    "{attempt} attempts were disturbed by dropouts: run the sound tests on a machine that does nothing else"
                );
                sleep(Duration::from_secs(2));
            }
        }
    }
    unreachable!("the last attempt has failed")
}
