//! Load, repetitions and one-repetition maximum.
