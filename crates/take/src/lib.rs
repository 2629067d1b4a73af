//! What a drill leaves behind: MIDI and WAV files, JSON, and the journal that survives a kill.
