//! The window: paints scenes and states, and holds no musical logic.
