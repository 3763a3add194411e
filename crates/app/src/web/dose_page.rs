//! The page of a lifter's dose: what eight weeks propose, and every muscle week by week.

use maud::{Markup, html};
use service::dose::record::{DoseRecordView, MuscleDoseRecord, ProposalView, why_nothing};

use super::layout::{self, Footer};
use crate::chart;
use crate::wording::{self, decimal};

/// Draws the page.
pub(super) fn dose_page(view: &DoseRecordView) -> Markup {
    let body = html! {
        p.above { a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } }
        h1 { "Dose by weeks" }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        @if view.muscles.is_empty() {
            p {
                "No hard set was done in the last weeks, and no programme plans any. Sets appear here as soon as "
                "they are logged; "
                a href=(layout::programme_path(&view.lifter)) { "a programme" } " puts the plan beside them."
            }
        } @else {
            (proposals(view))
            (weeks(view))
        }
        section.part aria-labelledby="how" {
            h2 #how { "How this is counted" }
            @for note in &view.notes { p.aside { (note) } }
        }
    };
    layout::page(&format!("Dose of {}", view.lifter), Footer::Cautions, &body)
}

fn proposals(view: &DoseRecordView) -> Markup {
    let told: Vec<(&MuscleDoseRecord, &ProposalView)> = view
        .muscles
        .iter()
        .filter_map(|record| Some((record, record.proposal.as_ref()?)))
        .collect();
    let (keep, shift): (Vec<_>, Vec<_>) =
        told.into_iter().partition(|(_, told)| told.shift == "keep");
    html! {
        section.part aria-labelledby="proposals" {
            h2 #proposals { "What eight weeks propose" }
            @if keep.is_empty() && shift.is_empty() { p { (why_nothing()) } }
            @if shift.is_empty() && !keep.is_empty() {
                p { "No shift: for no muscle is another dose likely enough to be better." }
            }
            @if !shift.is_empty() {
                ul.proposals { @for (record, told) in shift { (proposal(record, told)) } }
                p {
                    "To follow one, change the sets or the muscle's range in "
                    a href=(layout::programme_path(&view.lifter)) { "the programme" } "."
                }
            }
            @if !keep.is_empty() {
                details {
                    summary { "Muscles whose dose is to be kept" }
                    ul.proposals { @for (record, told) in keep { (proposal(record, told)) } }
                }
            }
        }
    }
}

fn proposal(record: &MuscleDoseRecord, told: &ProposalView) -> Markup {
    html! {
        li {
            p {
                strong { (wording::capitalised(record.muscle)) ": " (wording::proposal(told)) }
                " " (told.words) " " (wording::dose_odds(told.p))
            }
        }
    }
}

fn weeks(view: &DoseRecordView) -> Markup {
    let heights = view.muscles.iter().flat_map(|record| &record.weeks);
    let most =
        heights.map(|week| week.done().max(week.planned.unwrap_or(0.0))).fold(10.0, f64::max);
    html! {
        section.part aria-labelledby="weeks" {
            h2 #weeks { "Every muscle, week by week" }
            p.legend {
                "Bars: hard sets done, dark as a prime mover, light while assisting; the last is the week that is "
                "still going on. "
                @if view.has_programme { "Line across a bar: planned. " }
                "Shade: the range from least to most. All on one scale, up to " (decimal(most, 0)) " sets."
            }
            div.wide tabindex="0" role="region" aria-label="Dose of every muscle" {
                table.dose-table {
                    thead {
                        tr {
                            th scope="col" { "Muscle" }
                            th scope="col" { span.screen-reader { "Picture" } }
                            th.n scope="col" { "Sets a week, last four" }
                            th.n scope="col" { "Against the four before" }
                            @if view.has_programme { th.n scope="col" { "Planned now" } }
                            th.n scope="col" { "Least–aim–most" }
                        }
                    }
                    tbody { @for record in &view.muscles { (row(view, record, most)) } }
                }
            }
            details {
                summary { "Every week as a table" }
                div.wide tabindex="0" role="region" aria-label="Hard sets by week" { (all_weeks(view)) }
            }
        }
    }
}

fn row(view: &DoseRecordView, record: &MuscleDoseRecord, most: f64) -> Markup {
    let (least, aim, highest) = record.range;
    html! {
        tr {
            th scope="row" { (record.muscle) }
            td { (chart::dose_weeks(record, most)) }
            td.n { (record.mean.map_or("–".to_owned(), |mean| decimal(mean, 1))) }
            td.n { (record.change.map_or("–".to_owned(), |change| wording::signed(change, 1))) }
            @if view.has_programme {
                td.n { (planned(record.weeks.last().and_then(|week| week.planned))) }
            }
            td.n {
                (decimal(least, 1)) "–" (decimal(aim, 1)) "–" (decimal(highest, 1))
                @if record.own_range { "*" }
            }
        }
    }
}

fn planned(sets: Option<f64>) -> String {
    sets.map_or("–".to_owned(), |sets| decimal(sets, 1))
}

fn all_weeks(view: &DoseRecordView) -> Markup {
    html! {
        table {
            caption { "Hard sets done: as a prime mover + while assisting" @if view.has_programme { " (planned)" } }
            thead {
                tr {
                    th scope="col" { "Week of" }
                    @for record in &view.muscles { th.n scope="col" { (record.muscle) } }
                }
            }
            tbody {
                @for (place, monday) in view.weeks.iter().enumerate().rev() {
                    tr {
                        th scope="row" { (wording::short_day(*monday)) }
                        @for record in &view.muscles {
                            @let week = record.weeks[place];
                            td.n {
                                (decimal(week.direct, 1)) " + " (decimal(week.assisting, 1))
                                @if let Some(planned) = week.planned { " (" (decimal(planned, 1)) ")" }
                            }
                        }
                    }
                }
            }
        }
    }
}
