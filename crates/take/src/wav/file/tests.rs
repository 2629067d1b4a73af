use std::fs;

use super::*;
use crate::wav::read_wav;

fn form(channels: u16, samples: WavSamples) -> WavForm {
    WavForm { rate: SampleRate::HZ_48000, channels, samples, seed: 1 }
}

fn cue(frame: i64, label: &str) -> WavCue {
    WavCue { frame: Frame::new(frame), label: label.to_owned() }
}

fn written(form: WavForm, samples: &[f32], cues: &[WavCue]) -> Vec<u8> {
    let dir = tempfile::tempdir().expect("a folder");
    let place = dir.path().join("out.wav");
    let frames = u64::try_from(samples.len() / usize::from(form.channels)).expect("small");
    let mut file = WavFile::create(&place, form, frames, cues).expect("created");
    // In pieces, as it is rendered.
    let whole = usize::from(form.channels) * 3;
    samples.chunks(whole).for_each(|piece| file.write(piece).expect("written"));
    file.finish().expect("finished");
    fs::read(&place).expect("there")
}

/// The file by hand, from the published layout of RIFF and WAVE: three frames of one 24-bit channel are nine bytes, which a zero follows.
#[test]
fn every_byte_is_where_the_layout_has_it() {
    let found = written(
        form(1, WavSamples::Int24),
        &[0.5, -1.0, 2.0],
        &[cue(2, "bar 1"), cue(0, "x"), cue(9, "out")],
    );
    let mut expected = b"RIFF".to_vec();
    expected.extend(172_u32.to_le_bytes());
    expected.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0\x80\xBB\0\0\x80\x32\x02\0\x03\0\x18\0data\x09\0\0\0");
    expected.extend(b"\0\0\x40\0\0\x80\xFF\xFF\x7F\0");
    expected.extend(b"cue \x34\0\0\0\x02\0\0\0");
    expected.extend(b"\x01\0\0\0\0\0\0\0data\0\0\0\0\0\0\0\0\0\0\0\0");
    expected.extend(b"\x02\0\0\0\x02\0\0\0data\0\0\0\0\0\0\0\0\x02\0\0\0");
    expected.extend(b"LIST\x24\0\0\0adtllabl\x06\0\0\0\x01\0\0\0x\0labl\x0A\0\0\0\x02\0\0\0bar 1\0");
    let length = u32::try_from(expected.len()).expect("small") - 8;
    expected[4..8].copy_from_slice(&length.to_le_bytes());
    assert_eq!(found, expected);
}

/// Every length in a file, added up, is the file's: the walk that any reader does.
#[test]
fn the_sizes_are_right_to_the_byte() {
    for samples in [WavSamples::Int16, WavSamples::Int24, WavSamples::Float32] {
        for channels in [1, 2] {
            for frames in [0_u16, 1, 2, 7] {
                for labels in [&[][..], &["a"], &["bar 1", "bar 2, pass 2"]] {
                    let sound = vec![0.25; usize::from(frames * channels)];
                    let cues: Vec<WavCue> =
                        labels.iter().map(|label| cue(i64::from(frames), label)).collect();
                    let bytes = written(form(channels, samples), &sound, &cues);
                    let word = |at: usize| {
                        let word = bytes[at..at + 4].try_into().expect("four bytes");
                        usize::try_from(u32::from_le_bytes(word)).expect("small")
                    };
                    assert_eq!(word(4) + 8, bytes.len());
                    let mut names = Vec::new();
                    let mut at = 12;
                    while at < bytes.len() {
                        names.push(String::from_utf8_lossy(&bytes[at..at + 4]).into_owned());
                        at += 8 + word(at + 4).next_multiple_of(2);
                    }
                    assert_eq!(at, bytes.len(), "{names:?}");
                    let fact = usize::from(samples == WavSamples::Float32);
                    assert_eq!(names.len(), 2 + fact + if labels.is_empty() { 0 } else { 2 }, "{names:?}");
                }
            }
        }
    }
}

#[test]
fn our_own_reader_reads_every_form() {
    let dir = tempfile::tempdir().expect("a folder");
    let place = dir.path().join("out.wav");
    let sound = [0.5, -0.25, 0.125, 0.0, -1.0, 0.75];
    for (samples, step) in [
        (WavSamples::Int16, 1.5 / 32_768.0),
        (WavSamples::Int24, 0.5 / 8_388_608.0),
        (WavSamples::Float32, 0.0),
    ] {
        for hz in [44_100, 48_000, 96_000] {
            let rate = SampleRate::new(hz).expect("in range");
            let form = WavForm { rate, ..form(2, samples) };
            let mut file = WavFile::create(&place, form, 3, &[cue(1, "bar 1")]).expect("created");
            file.write(&sound).expect("written");
            file.finish().expect("finished");
            let read = read_wav(&place).expect("read");
            assert_eq!((read.rate, read.channels, read.samples.len()), (rate, 2, 6));
            for (read, written) in read.samples.iter().zip(&sound) {
                assert!((read - written).abs() <= step, "{samples:?}: {read} {written}");
            }
        }
    }
}

/// Lipshitz and others: with this dither the mean of the rounded values is the value, and their variance about it a quarter of a step²,
/// whatever the value. Without dither the first of these would be 0 throughout.
#[test]
fn what_is_softer_than_a_step_is_kept_in_the_mean() {
    for value in [0.0, 0.3, 0.5, -0.9] {
        let sound = vec![value / 32_768.0; 60_000];
        let bytes = written(form(1, WavSamples::Int16), &sound, &[]);
        let steps = bytes[44..].chunks(2).map(|pair| f64::from(i16::from_le_bytes([pair[0], pair[1]])));
        let steps: Vec<f64> = steps.collect();
        let mean = steps.iter().sum::<f64>() / 60_000.0;
        let variance = steps.iter().map(|step| (step - mean).powi(2)).sum::<f64>() / 60_000.0;
        assert!((mean - f64::from(value)).abs() < 0.01, "{value}: mean {mean}");
        assert!((variance - 0.25).abs() < 0.01, "{value}: variance {variance}");
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_one_others() {
    let sound = vec![0.1; 200];
    let one = written(form(1, WavSamples::Int16), &sound, &[]);
    assert_eq!(one, written(form(1, WavSamples::Int16), &sound, &[]));
    assert_ne!(one, written(WavForm { seed: 2, ..form(1, WavSamples::Int16) }, &sound, &[]));
}

#[test]
fn four_gigabytes_are_refused_before_there_is_a_file() {
    let dir = tempfile::tempdir().expect("a folder");
    let place = dir.path().join("out.wav");
    fs::write(&place, b"old").expect("written");
    // Of 16 bits in stereo, 0xFFFF_FFFF less the room for a header holds 1,073,741,807 frames.
    let check = |frames: u64, fits: bool| {
        let created = WavFile::create(&place, form(2, WavSamples::Int16), frames, &[]);
        match created {
            Ok(file) => {
                drop(file);
                assert!(fits, "{frames}");
            }
            Err(error) => {
                assert!(!fits, "{frames}: {error}");
                let error = error.to_string();
                assert!(
                    error.contains("would last 6 h 12 min 50 s") && error.contains("6 h 12 min 49 s"),
                    "{error}"
                );
            }
        }
        assert_eq!(fs::read_dir(dir.path()).expect("listed").count(), 1, "nothing is left beside it");
        assert_eq!(fs::read(&place).expect("there"), b"old");
    };
    check(1_073_741_807, true);
    check(1_073_741_808, false);
    // Marks count too: so many that they alone pass what is left.
    let marks: Vec<WavCue> = (0..10).map(|at| cue(at, "a label of some length")).collect();
    let error = WavFile::create(&place, form(2, WavSamples::Int16), 1_073_741_807, &marks).expect_err("full");
    assert!(matches!(error, Error::WavTooLong { .. }), "{error}");
}

#[test]
fn another_length_than_promised_is_refused_and_the_old_file_kept() {
    let dir = tempfile::tempdir().expect("a folder");
    let place = dir.path().join("out.wav");
    fs::write(&place, b"old").expect("written");
    let mut file = WavFile::create(&place, form(2, WavSamples::Int16), 3, &[]).expect("created");
    assert!(matches!(file.write(&[0.0; 3]), Err(Error::ChannelLengths { .. })));
    assert!(matches!(file.write(&[0.0; 8]), Err(Error::WavFrames { promised: 3, given: 4, .. })));
    file.write(&[0.0; 4]).expect("written");
    assert!(matches!(file.finish(), Err(Error::WavFrames { promised: 3, given: 2, .. })));
    assert_eq!(fs::read(&place).expect("there"), b"old");
    assert_eq!(fs::read_dir(dir.path()).expect("listed").count(), 1);
}

/// A pipe cannot be wound back, and need not be.
#[cfg(unix)]
#[test]
fn a_place_that_is_no_file_is_written_from_front_to_back() {
    let mut file =
        WavFile::create(Path::new("/dev/null"), form(1, WavSamples::Int16), 2, &[]).expect("opened");
    file.write(&[0.0; 2]).expect("written");
    file.finish().expect("finished");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_apart() {
    let mut file =
        WavFile::create(Path::new("/dev/full"), form(1, WavSamples::Int16), 100_000, &[]).expect("a buffer");
    let error = file.write(&[0.0; 100_000]).and_then(|()| file.finish()).expect_err("always full");
    assert!(matches!(error, Error::DiskFull { .. }), "{error}");
}
