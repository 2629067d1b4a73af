use crate::limits::EXACT_BELOW;

/// Keeps every frame within ±1, in place.
///
/// Below [`EXACT_BELOW`] a frame is left exactly as it is. Above, the excess is bent by `u / (1 + u)`,
/// which leaves the knee in the direction of the straight line and never reaches full scale, so a sum
/// of sounds that is too loud grows duller rather than cracking. It has no memory, and therefore no
/// delay and no dependence on blocks.
///
/// Real-time: no allocation, lock, I/O or panic.
pub(crate) fn apply(frames: &mut [f32]) {
    const ROOM: f32 = 1.0 - EXACT_BELOW;
    for frame in frames {
        let size = frame.abs();
        let excess = ((size - EXACT_BELOW) / ROOM).max(0.0);
        let bent = (EXACT_BELOW + ROOM * (excess / (1.0 + excess))).copysign(*frame);
        *frame = if size <= EXACT_BELOW { *frame } else { bent };
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn bent(frame: f32) -> f32 {
        let mut frames = [frame];
        apply(&mut frames);
        frames[0]
    }

    proptest! {
        #[test]
        fn quiet_frames_are_left_to_the_bit(frame in -EXACT_BELOW..=EXACT_BELOW) {
            prop_assert_eq!(bent(frame).to_bits(), frame.to_bits());
        }

        #[test]
        fn no_frame_passes_full_scale_and_louder_stays_louder(a in 0.0f32..1e6, more in 0.0f32..100.0) {
            prop_assert!(bent(a) <= 1.0 && bent(-a) >= -1.0);
            prop_assert_eq!(bent(-a), -bent(a));
            prop_assert!(bent(a + more) >= bent(a));
        }
    }

    #[test]
    fn the_knee_has_no_step() {
        let just_above = f32::from_bits(EXACT_BELOW.to_bits() + 1);
        assert!((bent(just_above) - EXACT_BELOW).abs() < 1e-6);
        // −1 dBFS, computed: 10^(−1/20).
        assert!((f64::from(EXACT_BELOW) - 10f64.powf(-0.05)).abs() < 1e-7);
    }
}
