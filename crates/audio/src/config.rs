use cpal::{BufferSize, SampleFormat, StreamConfig, SupportedBufferSize, SupportedStreamConfigRange};
use timebase::{Frames, SampleRate};

/// Block size asked for where nothing else is said: 5.3 ms at 48 kHz.
pub(crate) const BLOCK_FRAMES: u32 = 256;

/// What a device will be asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Config {
    pub(crate) rate: SampleRate,
    pub(crate) channels: u16,
    pub(crate) format: SampleFormat,
    pub(crate) block_frames: u32,
}

impl Config {
    /// The block size is always asked for: a driver left to itself may choose a third of a second.
    pub(crate) const fn stream(&self) -> StreamConfig {
        StreamConfig {
            channels: self.channels,
            sample_rate: self.rate.hz(),
            buffer_size: BufferSize::Fixed(self.block_frames),
        }
    }

    pub(crate) fn block(&self) -> Frames {
        Frames::new(i64::from(self.block_frames))
    }
}

/// Chooses from what a device offers: first the wanted rate, or else the device's own; then two
/// channels; then the finest format. `None` if there is nothing this program can use.
pub(crate) fn choose(
    offers: &[SupportedStreamConfigRange],
    own_rate: Option<u32>,
    wanted: SampleRate,
    block_frames: u32,
) -> Option<Config> {
    let usable = |offer: &&SupportedStreamConfigRange| format_rank(offer.sample_format()).is_some();
    let best = offers.iter().filter(usable).max_by_key(|offer| {
        let rate_rank = if offer.contains_rate(wanted.hz()) {
            2
        } else {
            u8::from(own_rate.is_some_and(|hz| offer.contains_rate(hz)))
        };
        let channels = match offer.channels() {
            2 => 3,
            1 => 2,
            0 => 0,
            _ => 1,
        };
        (rate_rank, channels, std::cmp::Reverse(offer.channels()), format_rank(offer.sample_format()))
    })?;
    let hz = [Some(wanted.hz()), own_rate]
        .into_iter()
        .flatten()
        .find(|&hz| best.contains_rate(hz))
        .unwrap_or_else(|| wanted.hz().clamp(best.min_sample_rate(), best.max_sample_rate()));
    let block_frames = match best.buffer_size() {
        // A range that is empty or begins at 0 is no range.
        &SupportedBufferSize::Range { min, max } if min <= max && max > 0 => {
            block_frames.clamp(min.max(1), max)
        }
        _ => block_frames,
    };
    Some(Config {
        rate: SampleRate::new(hz).ok()?,
        channels: best.channels(),
        format: best.sample_format(),
        block_frames,
    })
}

/// The finer the higher; `None` for what is no plain sample.
const fn format_rank(format: SampleFormat) -> Option<u8> {
    Some(match format {
        SampleFormat::F32 => 9,
        SampleFormat::F64 => 8,
        SampleFormat::I32 => 7,
        SampleFormat::I24 => 6,
        SampleFormat::I16 => 5,
        SampleFormat::U32 => 4,
        SampleFormat::U24 => 3,
        SampleFormat::U16 => 2,
        SampleFormat::I8 => 1,
        SampleFormat::U8 => 0,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offer(
        channels: u16,
        rates: (u32, u32),
        block: (u32, u32),
        format: SampleFormat,
    ) -> SupportedStreamConfigRange {
        let buffer_size = SupportedBufferSize::Range { min: block.0, max: block.1 };
        SupportedStreamConfigRange::new(channels, rates.0, rates.1, buffer_size, format)
    }

    fn check(
        offers: &[SupportedStreamConfigRange],
        own_rate: Option<u32>,
        expected: Option<(u32, u16, SampleFormat, u32)>,
    ) {
        let chosen = choose(offers, own_rate, SampleRate::HZ_48000, BLOCK_FRAMES)
            .map(|config| (config.rate.hz(), config.channels, config.format, config.block_frames));
        assert_eq!(chosen, expected, "{offers:?}");
    }

    #[test]
    fn the_rate_comes_first_then_two_channels_then_the_format() {
        use SampleFormat::{DsdU8, F32, I16, I32, U8};
        let full = (8_000, 192_000);
        let block = (16, 4_096);
        check(&[], None, None);
        check(&[offer(2, full, block, DsdU8)], None, None);
        check(
            &[offer(2, full, block, I16), offer(2, full, block, F32), offer(1, full, block, F32)],
            Some(44_100),
            Some((48_000, 2, F32, 256)),
        );
        check(
            &[offer(2, (44_100, 44_100), block, F32), offer(8, (48_000, 48_000), block, I16)],
            Some(44_100),
            Some((48_000, 8, I16, 256)),
        );
        check(
            &[offer(2, (32_000, 32_000), block, F32), offer(1, (44_100, 44_100), block, U8)],
            Some(44_100),
            Some((44_100, 1, U8, 256)),
        );
        check(&[offer(6, full, block, I32), offer(4, full, block, I32)], None, Some((48_000, 4, I32, 256)));
        check(&[offer(1, (96_000, 192_000), block, F32)], None, Some((96_000, 1, F32, 256)));
    }

    #[test]
    fn the_block_is_held_within_what_the_device_can() {
        use SampleFormat::F32;
        let check = |block: (u32, u32), expected: u32| {
            check(&[offer(2, (48_000, 48_000), block, F32)], None, Some((48_000, 2, F32, expected)));
        };
        check((1_024, 1_024), 1_024);
        check((16, 128), 128);
        check((0, 0), 256);
        check((0, 4_096), 256);
    }

    /// A device beyond the house's limits of a rate is of no use.
    #[test]
    fn rates_outside_the_limit_are_refused() {
        check(&[offer(2, (384_000, 384_000), (16, 4_096), SampleFormat::F32)], None, None);
    }
}
