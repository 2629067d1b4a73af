use proptest::prelude::*;

use super::*;

fn ramp(frames: u16, channels: u16) -> Vec<f32> {
    (0..frames * channels).map(|n| f32::from(n % 2_000) / 2_000.0 - 0.5).collect()
}

fn frames_of(path: &Path) -> u64 {
    let reader = WavReader::open(path).expect("a WAV file");
    u64::from(reader.duration())
}

#[test]
fn a_file_opens_at_any_moment_and_lacks_a_quarter_of_a_second_at_most() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("take.wav");
    let rate = SampleRate::new(8_000).expect("in range");
    let mut wav = TakeWav::create(&path, rate, 2).expect("created");
    assert_eq!(frames_of(&path), 0, "it opens before there is sound");
    // Pieces that do not divide it, and one longer than many.
    for frames in [441_u16, 7_999, 1, 30_000, 12] {
        wav.write(&ramp(frames.min(30_000), 2)).expect("written");
        let on_disk = frames_of(&path);
        assert_eq!(on_disk, wav.saved_frames());
        assert_eq!(on_disk, wav.frames() / 2_000 * 2_000);
    }
    assert_eq!(wav.finish().expect("finished"), 38_453);
    assert_eq!(frames_of(&path), 38_453);
}

#[test]
fn what_lies_behind_the_header_is_taken_in_by_mending() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("take.wav");
    let rate = SampleRate::new(8_000).expect("in range");
    let mut wav = TakeWav::create(&path, rate, 2).expect("created");
    wav.write(&ramp(20_300, 2)).expect("written");
    // As a kill leaves it: the buffer is lost, the destructors do not run, half a frame stands at the end.
    let killed = dir.path().join("killed.wav");
    let mut bytes = std::fs::read(&path).expect("read");
    bytes.extend([1, 2, 3]);
    std::fs::write(&killed, &bytes).expect("written");
    assert_eq!(frames_of(&killed), 20_000);
    let there = (u64::try_from(bytes.len()).expect("fits") - 44) / 4;
    assert_eq!(TakeWav::mend(&killed).expect("mended"), there);
    assert_eq!(frames_of(&killed), there);
    let mended = read_wav(&killed).expect("read");
    assert_eq!(mended.samples[..32_000], read_wav(&path).expect("read").samples[..32_000]);
    assert_eq!(TakeWav::mend(&killed).expect("nothing to mend"), there);
}

#[test]
fn what_is_no_take_is_not_mended() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("other.wav");
    for bytes in [&b""[..], b"RIFF", &[0; 100]] {
        std::fs::write(&path, bytes).expect("written");
        assert!(TakeWav::mend(&path).is_err());
        assert_eq!(std::fs::read(&path).expect("read"), bytes);
    }
}

#[test]
fn four_gigabytes_are_refused_and_end_the_file() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("take.wav");
    let rate = SampleRate::new(8_000).expect("in range");
    let mut wav = TakeWav::create(&path, rate, 2).expect("created");
    assert_eq!(wav.most_frames, u64::from(u32::MAX - 64) / 4);
    wav.write(&[0.25; 200]).expect("written");
    // As if six hours had been recorded.
    wav.most_frames = 150;
    let error = wav.write(&[0.25; 102]).expect_err("full");
    assert!(matches!(error, Error::WavFull { frames: 100, .. }), "{error}");
    assert!(matches!(wav.write(&[0.25; 2]), Err(Error::Ended { .. })));
    assert_eq!(frames_of(&path), 100);
    assert_eq!(wav.finish().expect("nothing left to do"), 100);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_apart() {
    let error = TakeWav::create(Path::new("/dev/full"), SampleRate::HZ_48000, 2).expect_err("always full");
    assert!(matches!(error, Error::DiskFull { .. }), "{error}");
    assert!(error.to_string().starts_with("the disk is full: /dev/full cannot grow"), "{error}");
}

#[test]
fn half_a_frame_and_wrong_channels_are_refused() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("take.wav");
    let mut wav = TakeWav::create(&path, SampleRate::HZ_48000, 2).expect("created");
    assert!(matches!(wav.write(&[0.0; 3]), Err(Error::ChannelLengths { .. })));
    assert_eq!(wav.frames(), 0);
    let error = TakeWav::create(&path, SampleRate::HZ_48000, 6).expect_err("six channels").to_string();
    assert!(error.contains("6 is not a number of channels that is allowed: it goes from 1 to 2"), "{error}");
}

#[test]
fn other_programs_sound_is_read() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("other.wav");
    let spec = |bits_per_sample, sample_format| WavSpec {
        channels: 2,
        sample_rate: 44_100,
        bits_per_sample,
        sample_format,
    };
    for bits in [8, 16, 24, 32] {
        let mut wav = WavWriter::create(&path, spec(bits, SampleFormat::Int)).expect("created");
        let quarter = 1_i32 << (bits - 3);
        for sample in [0, quarter, -quarter, 0] {
            wav.write_sample(sample).expect("written");
        }
        wav.finalize().expect("finished");
        let sound = read_wav(&path).expect("read");
        assert_eq!(sound.channel(0).collect::<Vec<_>>(), [0.0, -0.25], "{bits} bits");
        assert_eq!(sound.channel(1).collect::<Vec<_>>(), [0.25, 0.0], "{bits} bits");
        assert_eq!(sound.channel(2).count(), 0);
    }
    let mut wav = WavWriter::create(&path, spec(32, SampleFormat::Float)).expect("created");
    wav.write_sample(0.125_f32).expect("written");
    wav.write_sample(-0.5_f32).expect("written");
    wav.finalize().expect("finished");
    assert_eq!(read_wav(&path).expect("read").samples, [0.125, -0.5]);
    std::fs::write(&path, b"RIFF\0\0\0\0nothing").expect("written");
    let error = read_wav(&path).expect_err("no WAV").to_string();
    assert!(error.contains("cannot be read as WAV") && error.contains("export it"), "{error}");
}

#[test]
fn a_file_that_lies_about_its_length_is_refused_with_both_lengths() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("lies.wav");
    write_wav(&path, SampleRate::HZ_48000, 1, &[0.25; 100]).expect("written");
    let whole = std::fs::read(&path).expect("read");
    let check = |bytes: &[u8], says: &[&str]| {
        std::fs::write(&path, bytes).expect("written");
        let error = read_wav(&path).expect_err("refused").to_string();
        assert!(says.iter().all(|word| error.contains(word)), "{error}");
    };
    check(&[], &["it is empty"]);
    check(&whole[..30], &["it ends before its sound begins", "30 bytes"]);
    check(&whole[..200], &["its header says 200 bytes of sound", "the whole file has 200 bytes"]);
    let mut claims = whole.clone();
    claims[40..44].copy_from_slice(&0xFFFF_FFF0_u32.to_le_bytes());
    check(&claims, &["its header says 4294967280 bytes of sound", "244 bytes"]);
    // Less than there is: what follows the sound is not sound.
    let mut claims = whole;
    claims[40..44].copy_from_slice(&20_u32.to_le_bytes());
    std::fs::write(&path, &claims).expect("written");
    assert_eq!(read_wav(&path).expect("read").samples.len(), 10);
}

proptest! {
    #[test]
    fn a_sample_comes_back_within_half_a_step(samples in prop::collection::vec(-1.2f32..1.2, 2..40)) {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join("sound.wav");
        write_wav(&path, SampleRate::HZ_48000, 1, &samples).expect("written");
        let sound = read_wav(&path).expect("read");
        prop_assert_eq!(sound.rate, SampleRate::HZ_48000);
        prop_assert_eq!(sound.samples.len(), samples.len());
        for (read, written) in sound.samples.iter().zip(&samples) {
            let written = written.clamp(-1.0, 32_767.0 / 32_768.0);
            prop_assert!((read - written).abs() <= 0.5 / 32_768.0 + f32::EPSILON, "{} {}", read, written);
        }
    }
}
