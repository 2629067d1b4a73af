/// Why a rig cannot be opened or a drill cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The sound device.
    #[error(transparent)]
    Sound(#[from] audio::Error),
    /// A MIDI input.
    #[error(transparent)]
    Input(#[from] input::Error),
    /// The plan, or making sound of it.
    #[error(transparent)]
    Sequencer(#[from] sequencer::Error),
    /// A voice.
    #[error(transparent)]
    Voice(#[from] voice::Error),
    /// The engine.
    #[error(transparent)]
    Mixer(#[from] mixer::Error),
    /// The take.
    #[error(transparent)]
    Take(#[from] take::Error),
    /// A drill plan without a round.
    #[error("the drill plan has no round: give it a rhythm")]
    NoRound,
    /// The thread of the rig has ended, because its sound device has gone.
    #[error("the sound device has gone: plug it in or choose another, and open it again")]
    Gone,
    /// The system gives no thread.
    #[error("the system gives no thread for the drill: close other programs and try again")]
    NoThread,
}
