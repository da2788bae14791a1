//! Every behaviour test of the project, in one binary, so that OpenCV is linked once.

mod pictures;
