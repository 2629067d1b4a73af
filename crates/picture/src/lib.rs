//! An engraving with the players' rows over it, as a scene.
