//! The motion held to what is known of it: closed forms, conservation, symmetry, and that no hit
//! makes it stumble.

mod compared;
mod forms;
mod given;
mod keeping;
mod learned;
mod refused;
mod stepped;
mod symmetry;
mod wild;
