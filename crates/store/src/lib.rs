//! The record on disk.
