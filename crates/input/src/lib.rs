//! MIDI devices: ports, players, and stamped messages made attacks.
