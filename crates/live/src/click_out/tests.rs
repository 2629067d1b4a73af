use std::sync::Mutex;

use super::*;

/// Keeps what it is given. What a driver does is tested where one runs.
#[derive(Clone, Debug, Default)]
struct Book {
    sent: Arc<Mutex<Vec<(OutMessage, HostTime)>>>,
    room: Option<usize>,
    ahead: Seconds,
}

impl Outlet for Book {
    fn ahead(&self) -> Seconds {
        self.ahead
    }

    fn send(&mut self, message: OutMessage, at: HostTime) -> Result<(), input::Error> {
        let mut sent = self.sent.lock().expect("no panic");
        if self.room.is_some_and(|room| sent.len() >= room) {
            return Err(input::Error::Send { port: "book".to_owned(), why: "full".to_owned() });
        }
        sent.push((message, at));
        Ok(())
    }
}

fn sequence(text: &str) -> Sequence {
    let rhythm = rhythm::text::read(text).rhythm.expect("a rhythm");
    sequencer::sequence(&rhythm, &counting::count(&rhythm), &sequencer::Plan::of(&rhythm))
}

fn run(book: &Book, messages: Vec<TimedMessage>, zero: HostTime, origin: HostOrigin) -> ClickReport {
    ClickOut::start(Box::new(book.clone()), messages, zero, origin).expect("a thread").finish()
}

/// General MIDI's keys and the times of the beats at 120 a minute, by hand: the count-in of two beats, then the bar; claps where it is struck.
#[test]
fn messages_stand_at_the_times_of_the_tempo() {
    let sequence = sequence("meter: 2/4\ntempo: quarter = 120\n| 1 & (2) |");
    let begins = |sounds| -> Vec<(i64, u8)> {
        let messages = click_messages(&sequence, sounds);
        assert!(messages.is_sorted_by_key(|(at, _)| *at));
        assert_eq!(messages.iter().filter(|(_, message)| message[0] == 0x89).count() * 2, messages.len());
        let begins = messages.iter().filter(|(_, message)| message[0] == 0x99);
        begins.map(|(at, message)| (at.since_zero().as_micros() / 1_000, message[1])).collect()
    };
    let click = begins(ClickSounds { click: 1.0, clap: 0.0 });
    assert_eq!(click, [(-1_000, 76), (-500, 77), (0, 76), (500, 77)]);
    assert_eq!(begins(ClickSounds { click: 0.0, clap: 1.0 }), [(0, 39), (250, 39)]);
    assert_eq!(begins(ClickSounds { click: 1.0, clap: 1.0 }).len(), 6);
    assert!(begins(ClickSounds { click: 0.0, clap: 0.0 }).is_empty());
}

/// As in the file of the same sequence.
#[test]
fn accents_and_loudness_are_velocities() {
    let sequence = sequence("meter: 4/4\n| 1 2 (3 4) |\naccents: | > . |\ndynamics: | p |");
    let messages = click_messages(&sequence, ClickSounds { click: 0.0, clap: 1.0 });
    let begins = messages.iter().filter(|(_, message)| message[0] == NOTE_ON);
    // 6 dB less than 100, and 4 dB more than that.
    assert_eq!(begins.map(|(_, message)| message[2]).collect::<Vec<_>>(), [89, 71]);
}

/// By the curve 40 log₁₀(v/127): 6 dB are a factor of 10^(6/40) of the velocity, 1.4125, as far as there are velocities.
#[test]
fn levels_are_velocities() {
    let sequence = sequence("meter: 2/4\n| 1 & 2 |");
    let velocities = |db: f32| -> Vec<u8> {
        let gain = 10_f32.powf(db / 20.0);
        let messages = click_messages(&sequence, ClickSounds { click: gain, clap: gain });
        let begins = messages.iter().filter(|(_, message)| message[0] == NOTE_ON && message[1] != 77);
        let mut velocities: Vec<u8> = begins.map(|(_, message)| message[2]).collect();
        velocities.sort_unstable_by(|a, b| b.cmp(a));
        velocities
    };
    // The accented clicks of the count-in and of the bar, and three claps.
    assert_eq!(velocities(0.0), [120, 120, 100, 100, 100]);
    assert_eq!(velocities(-6.0), [85, 85, 71, 71, 71]);
    assert_eq!(velocities(12.0), [127; 5]);
    assert_eq!(velocities(-60.0), [4, 4, 3, 3, 3]);
}

#[test]
fn every_note_ends_before_its_key_begins_again() {
    // Beats of 200 ms in sixteenths are 50 ms apart: half of that.
    let sequence = sequence("meter: 1/4\ntempo: quarter = 300\n| 1 e & a |");
    let messages = click_messages(&sequence, ClickSounds { click: 0.0, clap: 1.0 });
    let micros: Vec<i64> = messages.iter().map(|(at, _)| at.since_zero().as_micros()).collect();
    assert_eq!(micros, [0, 25_000, 50_000, 75_000, 100_000, 125_000, 150_000, 180_000]);
}

#[test]
fn all_is_sent_in_order_and_silence_at_the_end() {
    let origin = HostOrigin::at(Instant::now());
    let book = Book::default();
    // Long past: nothing waits for a clock.
    let zero = HostTime::from_nanos(-3_600_000_000_000);
    let messages = click_messages(&sequence("meter: 2/4\n| 1 2 |"), ClickSounds { click: 1.0, clap: 1.0 });
    let report = run(&book, messages.clone(), zero, origin);
    let sent = book.sent.lock().expect("no panic");
    let expected: Vec<_> = messages.iter().map(|&(at, message)| (message, zero + at.since_zero())).collect();
    assert_eq!(sent[..messages.len()], expected);
    assert_eq!(
        sent[messages.len()..].iter().map(|(message, _)| *message).collect::<Vec<_>>(),
        [[0xB9, 123, 0]]
    );
    assert_eq!((report.notes, report.lateness.len(), &report.failed), (6, messages.len(), &None));
    assert!(report.lateness.is_sorted() && report.percentile(50) <= report.percentile(99));
    assert!(report.lateness[0] > Seconds::from_millis(3_500_000), "an hour late, as it was asked to be");
}

#[test]
fn stopped_in_a_note_it_ends_the_note() {
    let origin = HostOrigin::at(Instant::now());
    let book = Book::default();
    let now = origin.time(Instant::now());
    let hour = Moment::ZERO + Seconds::from_millis(3_600_000);
    let messages = vec![(Moment::ZERO, [NOTE_ON, 76, 100]), (hour, [NOTE_OFF, 76, 0])];
    let out = ClickOut::start(Box::new(book.clone()), messages, now, origin).expect("a thread");
    while book.sent.lock().expect("no panic").is_empty() {
        std::thread::yield_now();
    }
    out.stop();
    let report = out.finish();
    let sent: Vec<OutMessage> =
        book.sent.lock().expect("no panic").iter().map(|(message, _)| *message).collect();
    assert_eq!(sent, [[0x99, 76, 100], [0x89, 76, 0], [0xB9, 123, 0]]);
    assert_eq!((report.notes, report.lateness.len()), (1, 1));
}

#[test]
fn a_device_that_goes_is_told() {
    let origin = HostOrigin::at(Instant::now());
    let book = Book { room: Some(1), ..Book::default() };
    let messages = vec![(Moment::ZERO, [NOTE_ON, 76, 100]), (Moment::ZERO, [NOTE_OFF, 76, 0])];
    let report = run(&book, messages, HostTime::from_nanos(0), origin);
    assert!(matches!(report.failed, Some(input::Error::Send { .. })), "{report:?}");
    assert_eq!(report.notes, 1);
}

#[test]
fn nothing_sent_has_no_percentile() {
    assert_eq!(ClickReport::default().percentile(99), None);
    let report =
        ClickReport { lateness: (1..=200).map(Seconds::from_nanos).collect(), ..ClickReport::default() };
    let nanos = |percent| report.percentile(percent).map(Seconds::as_nanos);
    assert_eq!((nanos(50), nanos(99), nanos(100)), (Some(100), Some(198), Some(200)));
}
