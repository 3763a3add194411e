//! The fixed-interval smoother: what is known of the state at each time from the whole series.
//!
//! For charts and reviews, never for readings, since it looks at what came later. Backward recursion of
//! Rauch, Tung & Striebel (1965), in a sum-of-squares form. While directions are diffuse its gain `J` is
//! taken in the limit κ → ∞: it must carry the diffuse directions back exactly (`J T A = A`), and among
//! the gains that do, it leaves the least variance. The results equal those of the exact diffuse
//! smoother of Durbin & Koopman (2012), section 5.3, without needing their three-term expansions.

use nalgebra::SMatrix;

use super::dense::{congruence, restore_bounds, solve_semidefinite};
use super::filter::Filtered;
use super::model::{Model, State};

/// The state at each observation's time, from the whole series.
#[derive(Debug, Clone, PartialEq)]
pub struct Smoothed<const N: usize> {
    /// One state per step of the filter, in order. Still partly diffuse only where the whole series did
    /// not pin the state down.
    pub states: Vec<State<N>>,
}

/// Looks back over a filtered series; `model` must be the one it was filtered with.
pub fn smooth<M: Model<N>, const N: usize>(model: &M, filtered: &Filtered<N>) -> Smoothed<N> {
    let steps = &filtered.steps;
    let mut states: Vec<State<N>> = steps.iter().map(|step| step.filtered).collect();
    for earlier in (0..steps.len().saturating_sub(1)).rev() {
        let next = &steps[earlier + 1];
        let gap_days = next.time_days - steps[earlier].time_days;
        let (transition, noise) = moves(model, gap_days);
        let here = &steps[earlier].filtered;
        let gain = backward_gain(here, &next.predicted, &transition, &noise);
        let later = states[earlier + 1];
        let kept = SMatrix::<f64, N, N>::identity() - gain * transition;
        let from_later = congruence(&gain, &(later.covariance + noise), &SMatrix::zeros());
        let mut covariance = congruence(&kept, &here.covariance, &from_later);
        restore_bounds(&mut covariance);
        let mean = here.mean + gain * (later.mean - next.predicted.mean);
        states[earlier] = State { mean, covariance, directions: later.directions.transform(&gain) };
    }
    Smoothed { states }
}

fn moves<M: Model<N>, const N: usize>(
    model: &M,
    gap_days: f64,
) -> (SMatrix<f64, N, N>, SMatrix<f64, N, N>) {
    (model.transition(gap_days), model.process_noise(gap_days))
}

/// `J`, so that the state here is `J` times the next state plus what the next state says nothing about.
///
/// With `B = T A = U R` (`U` orthonormal) and `C` a basis of what is orthogonal to `B`:
/// `J₀ = A R⁻¹ U'` carries the diffuse directions back, and
/// `J = J₀ + cov(x − J₀x⁺, C'x⁺) · var(C'x⁺)⁻¹ · C'`, all covariances finite parts.
/// Without diffuse directions this is the usual `P T' (T P T' + Q)⁻¹`.
fn backward_gain<const N: usize>(
    here: &State<N>,
    predicted: &State<N>,
    transition: &SMatrix<f64, N, N>,
    noise: &SMatrix<f64, N, N>,
) -> SMatrix<f64, N, N> {
    let across = here.covariance * transition.transpose();
    let n_diffuse = here.n_diffuse();
    if n_diffuse == 0 {
        return solve_semidefinite(&predicted.covariance, &across);
    }
    let (basis, triangular) = here.directions.transform(transition).basis();
    let mut carried = *here.directions.columns();
    for column in 0..n_diffuse {
        for earlier in 0..column {
            let shift = carried.column(earlier) * triangular[(earlier, column)];
            carried.set_column(column, &(carried.column(column) - shift));
        }
        let scaled = carried.column(column) / triangular[(column, column)];
        carried.set_column(column, &scaled);
    }
    let carry_back = carried * basis.transpose();
    let left_over = across - carry_back * (transition * across + noise);
    let mut cross = left_over * basis;
    let mut variance = congruence(&basis.transpose(), &predicted.covariance, &SMatrix::zeros());
    for column in 0..n_diffuse {
        cross.column_mut(column).fill(0.0);
        variance.column_mut(column).fill(0.0);
        variance.row_mut(column).fill(0.0);
    }
    carry_back + solve_semidefinite(&variance, &cross) * basis.transpose()
}
