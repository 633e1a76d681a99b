//! The host side of Halfglass.
