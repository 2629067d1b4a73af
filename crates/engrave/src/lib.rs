//! Rhythm and counting laid out as a positioned scene; the scene written as SVG.
