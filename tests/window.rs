//! The window on a real X server without a screen: it opens, paints, heeds keys, rests, and closes.
//!
//! What is inside it is tested with its crate; here the display, the driver, the keyboard and the sound are real.
#![cfg(target_os = "linux")]

use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use tests::jackd::{end, on_server};
use tests::{program, root};

/// What hangs longer than this hangs for good.
const PATIENCE: Duration = Duration::from_secs(60);

const WIDTH: usize = 1280;
const HEIGHT: usize = 720;

/// An X server of the test's own, on the first free display.
struct Display {
    process: Child,
    name: String,
}

impl Display {
    fn start() -> Self {
        let mut process = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &format!("{WIDTH}x{HEIGHT}x24"), "-nolisten", "tcp"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb runs: install it (on Debian: xvfb)");
        let mut out = process.stdout.take().expect("the output is piped");
        let mut number = String::new();
        while !number.ends_with('\n') {
            let mut byte = [0];
            assert_eq!(out.read(&mut byte).expect("Xvfb tells its display"), 1, "Xvfb ended at once");
            number.push(char::from(byte[0]));
        }
        // Dropping the pipe would end the server when it writes again; it writes no more.
        Self { process, name: format!(":{}", number.trim()) }
    }

    fn command(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command.env("DISPLAY", &self.name).env_remove("WAYLAND_DISPLAY");
        command
    }

    fn xdotool(&self, arguments: &[&str]) -> String {
        let output = self
            .command("xdotool")
            .args(arguments)
            .output()
            .expect("xdotool runs: install it (on Debian: xdotool)");
        assert!(
            output.status.success(),
            "xdotool {arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).expect("xdotool writes UTF-8").trim().to_owned()
    }

    /// The brightness of every pixel, row by row.
    fn picture(&self) -> Picture {
        let output = self
            .command("import")
            .args(["-window", "root", "-depth", "8", "gray:-"])
            .output()
            .expect("import runs: install ImageMagick (on Debian: imagemagick)");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert_eq!(output.stdout.len(), WIDTH * HEIGHT);
        Picture(output.stdout)
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        end(&mut self.process);
    }
}

#[derive(Clone, PartialEq, Eq)]
struct Picture(Vec<u8>);

impl Picture {
    /// How many pixels are dark, in the rows from `top` to `bottom`.
    fn dark(&self, top: usize, bottom: usize) -> usize {
        self.0[top * WIDTH..bottom * WIDTH].iter().filter(|&&pixel| pixel < 90).count()
    }

    /// How many pixels are light.
    fn light(&self) -> usize {
        self.0.iter().filter(|&&pixel| pixel > 230).count()
    }

    fn differs(&self, other: &Self) -> usize {
        self.0.iter().zip(&other.0).filter(|(a, b)| a.abs_diff(**b) > 40).count()
    }
}

/// The window, with the keyboard.
struct Window<'d> {
    display: &'d Display,
    process: Child,
}

impl<'d> Window<'d> {
    fn open(display: &'d Display, folder: &Path, arguments: &[&str]) -> Self {
        let process = program::call(["practice"].iter().chain(arguments))
            .current_dir(folder)
            .env("DISPLAY", &display.name)
            .env_remove("WAYLAND_DISPLAY")
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("countline runs");
        let id = display.xdotool(&["search", "--sync", "--onlyvisible", "--name", "^countline$"]);
        let id = id.lines().next().expect("a window is found").to_owned();
        display.xdotool(&["windowfocus", "--sync", &id]);
        let window = Self { display, process };
        window.until("the window is painted", |picture| picture.light() > WIDTH * HEIGHT / 2);
        window
    }

    fn key(&self, key: &str) {
        self.display.xdotool(&["key", key]);
    }

    /// Waits until what is seen is as it should be.
    fn until(&self, what: &str, is: impl Fn(&Picture) -> bool) -> Picture {
        let begun = Instant::now();
        loop {
            let picture = self.display.picture();
            if is(&picture) {
                return picture;
            }
            assert!(begun.elapsed() < PATIENCE, "{what}: not within {PATIENCE:?}");
            sleep(Duration::from_millis(100));
        }
    }

    /// Processor time used so far, in hundredths of a second.
    fn used(&self) -> u64 {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.process.id())).expect("it runs");
        let after_name = stat.rsplit_once(") ").expect("a name in brackets").1;
        let fields: Vec<&str> = after_name.split(' ').collect();
        // Fields 14 and 15 of proc(5), user and system time, counted from the third.
        fields[11].parse::<u64>().expect("a number") + fields[12].parse::<u64>().expect("a number")
    }

    /// Closes the window with its key, whatever lay over the page.
    fn close(mut self) {
        self.key("Escape");
        sleep(Duration::from_millis(300));
        self.key("ctrl+q");
        let begun = Instant::now();
        loop {
            if let Some(status) = self.process.try_wait().expect("a child can be asked") {
                let mut said = String::new();
                self.process.stderr.take().expect("piped").read_to_string(&mut said).expect("UTF-8");
                assert!(status.success(), "the window closed with {status}: {said}");
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "the window does not close");
            sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Window<'_> {
    fn drop(&mut self) {
        self.process.kill().ok();
        self.process.wait().ok();
    }
}

fn rhythm() -> String {
    root().join("demo-data/rhythms/1-nine-doorsteps.rhythm").display().to_string()
}

/// Where the page is: under the header and the controls, over the foot.
const PAGE: (usize, usize) = (190, 620);

#[test]
fn it_paints_heeds_keys_and_rests() {
    let display = Display::start();
    let folder = tempfile::tempdir().expect("a folder");
    let window = Window::open(&display, folder.path(), &["--device", "on no machine", &rhythm()]);
    let shown = window.until("notes are painted", |picture| picture.dark(PAGE.0, PAGE.1) > 3_000);
    assert!(shown.light() > WIDTH * HEIGHT / 2, "dark notes on light paper");

    window.key("F1");
    let keys = window.until("the list of keys appears", |picture| picture.differs(&shown) > 5_000);
    window.key("Escape");
    window.until("and goes", |picture| picture.differs(&keys) > 5_000 && picture.differs(&shown) < 500);

    // A text field has the keyboard, and its cursor does not blink.
    window.key("o");
    window.until("the path can be typed", |picture| picture.differs(&shown) > 3_000);
    sleep(Duration::from_millis(500));
    let before = window.used();
    sleep(Duration::from_secs(3));
    let used = window.used() - before;
    assert!(used <= 3, "a window at rest used {used} hundredths of a second in three seconds");
    window.close();
}

#[test]
fn without_a_display_it_says_what_it_needs() {
    let output = program::call(["practice"])
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .expect("countline runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("the window cannot open") && said.contains("countline listen"), "{said}");
}

#[test]
fn a_drill_is_played_on_the_space_bar() {
    on_server("a_drill_is_played_on_the_space_bar", play);
}

fn play() {
    let display = Display::start();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("two bars.rhythm");
    std::fs::write(&file, "title: Two Bars\nmeter: 2/4\ntempo: quarter = 120\n| 1 2 | 1 2 | 1 2 | 1 2 |\n")
        .expect("written");
    let file = file.display().to_string();
    let window = Window::open(&display, folder.path(), &["--system", "jack", &file]);
    window.until("notes are painted", |picture| picture.dark(PAGE.0, PAGE.1) > 1_500);
    // The devices are opened beside the first frames, so the first key may come too early. The same key stops a drill: it is
    // pressed again only where nothing has come of it.
    let takes = folder.path().join("takes");
    let begun = Instant::now();
    while !takes.is_dir() {
        assert!(begun.elapsed() < PATIENCE, "the drill starts");
        window.key("Return");
        let pressed = Instant::now();
        while !takes.is_dir() && pressed.elapsed() < Duration::from_secs(3) {
            sleep(Duration::from_millis(50));
        }
    }
    // The count-in is a second long, the rhythm four.
    sleep(Duration::from_millis(1_000));
    for _ in 0..8 {
        window.key("space");
        sleep(Duration::from_millis(450));
    }
    let take = finished(&takes);
    assert!(
        take["players"][0]["source"].as_str().is_some_and(|source| source.contains("keyboard")),
        "{take}"
    );
    window.until("pins are painted", |picture| picture.dark(PAGE.0, PAGE.1) > 2_000);
    window.close();
}

/// The description of the one take under `takes`, once the drill is over.
fn finished(takes: &Path) -> serde_json::Value {
    let begun = Instant::now();
    loop {
        let folder: Option<PathBuf> =
            std::fs::read_dir(takes).expect("a folder").next().map(|entry| entry.expect("an entry").path());
        let text = folder.and_then(|folder| std::fs::read_to_string(folder.join("take.json")).ok());
        let read = text.clone().unwrap_or_else(|| "there is no take.json yet".to_owned());
        let take = text.and_then(|text| serde_json::from_str::<serde_json::Value>(&text).ok());
        if let Some(take) = take
            && take["ended"] == "finished"
        {
            return take;
        }
        assert!(begun.elapsed() < PATIENCE, "the take is finished: {read}");
        sleep(Duration::from_millis(100));
    }
}
