//! The muscles on a lifter's page: the strip of the days before and to come, and its tables.

use maud::{Markup, html};
use service::view::{Interval, MuscleDay, MuscleView, MusclesView};

use crate::chart::{self, Size};
use crate::wording::{self, decimal, percent};

/// Draws the muscles.
pub(super) fn muscle_section(view: &MusclesView) -> Markup {
    let short = decimal(view.short_from_pct, 1);
    let large = chart::muscles(view, Size::Large, "muscle-strip");
    let small = chart::muscles(view, Size::Small, "muscle-strip");
    html! {
        section.muscles aria-labelledby="muscles" {
            h2 #muscles { "Muscles" }
            p {
                "How far each muscle is from its usual, in % of the strength of a lift that it would do alone: "
                @if !view.past.is_empty() { "on the evenings of the days before as it looked then, " }
                "now, and in the next days if nothing is trained. A muscle is never seen by itself: the lifts "
                "that share it tell."
            }
            @if let (Some(large), Some(small)) = (large, small) {
                figure.strip {
                    (large) (small)
                    figcaption {
                        p.legend {
                            "Line: usual. A bar hangs below it where a muscle is under usual and "
                            "stands on it where it is fresher; filled, more than " (short)
                            " % under is likelier than not. Thread: eight times in ten. Number: "
                            "the middle."
                        }
                    }
                }
            }
            details {
                summary { "Every muscle as a table" }
                div.wide { (table(view, &short)) }
                @if !view.past.is_empty() { div.wide { (past_table(view)) } }
            }
        }
    }
}

fn table(view: &MusclesView, short: &str) -> Markup {
    html! {
        table {
            caption { "In % against usual; bounds hold eight times in ten" }
            thead {
                tr {
                    th scope="col" { "Muscle" }
                    th scope="col" { "Back to usual, with a probability of 80 %" }
                    @for (idx, day) in view.days.iter().enumerate() {
                        th scope="col" {
                            @if idx == 0 { "Now" } @else { (wording::short_day(*day)) }
                        }
                        th.n scope="col" { "More than " (short) " % under" }
                    }
                }
            }
            tbody { @for muscle in &view.muscles { (row(muscle)) } }
        }
    }
}

fn row(muscle: &MuscleView) -> Markup {
    html! {
        tr {
            th scope="row" { (muscle.muscle) }
            td { (back(muscle.hours_until_usual)) }
            @for day in &muscle.days {
                td { (against_usual(day)) }
                td.n { (percent(day.p_short)) }
            }
        }
    }
}

fn past_table(view: &MusclesView) -> Markup {
    html! {
        table {
            caption { "The days before, in the evening" }
            thead {
                tr {
                    th scope="col" { "Muscle" }
                    @for day in view.past.iter().rev() { th scope="col" { (wording::short_day(*day)) } }
                }
            }
            tbody {
                @for muscle in &view.muscles {
                    tr {
                        th scope="row" { (muscle.muscle) }
                        @for day in muscle.past.iter().rev() { td { (against_usual(day)) } }
                    }
                }
            }
        }
    }
}

fn back(hours: Option<f64>) -> String {
    let told = wording::until_usual(hours);
    if told.starts_with("about") { format!("in {told}") } else { told }
}

fn against_usual(day: &MuscleDay) -> String {
    let Interval { low, mid, high } = day.shortfall_pct;
    let signed = |pct: f64| wording::fixed_signed(-pct, 1);
    format!("{} ({} to {})", signed(mid), signed(high), signed(low))
}
