//! Seeing: from a frame to a calibration and a layout.
//!
//! On `camera` and `layout`. Knows nothing of sources, storage or the network.
