//! Linear Gaussian state-space models.
