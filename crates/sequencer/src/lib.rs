//! Rhythm, tempo and count-in made cues at exact times, and cues made sound events.
