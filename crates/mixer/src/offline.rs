use crate::Mixer;

/// The block of an offline rendering: small enough for the fast caches.
const BLOCK: usize = 4_096;

/// Renders from where the mixer stands to the programme's end, mono, as fast as it goes, and hands every
/// block over: to a file, or to a test. The frames are those the mixer would have rendered live.
///
/// # Errors
/// The first that `take` returns; rendering ends there.
pub fn render_offline<E>(mixer: &mut Mixer, mut take: impl FnMut(&[f32]) -> Result<(), E>) -> Result<(), E> {
    let mut block = [0.0; BLOCK];
    while !mixer.is_finished() {
        let block = &mut block[..next(mixer)];
        mixer.render(block);
        take(block)?;
    }
    Ok(())
}

/// The same in stereo, left and right.
///
/// # Errors
/// The first that `take` returns; rendering ends there.
pub fn render_offline_stereo<E>(
    mixer: &mut Mixer,
    mut take: impl FnMut(&[[f32; 2]]) -> Result<(), E>,
) -> Result<(), E> {
    let mut block = [[0.0; 2]; BLOCK];
    while !mixer.is_finished() {
        let block = &mut block[..next(mixer)];
        mixer.render_stereo(block);
        take(block)?;
    }
    Ok(())
}

/// How long the next block is.
fn next(mixer: &Mixer) -> usize {
    usize::try_from(mixer.frames_left().count()).map_or(BLOCK, |left| left.min(BLOCK))
}
