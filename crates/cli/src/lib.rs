//! The rodbook command line.
