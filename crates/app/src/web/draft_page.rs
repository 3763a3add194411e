//! A draft while it is looked for and after: how far it is, the weeks, what each muscle gets and what binds,
//! and wishes that can't be kept together. The page renews itself without a script.

use maud::{Markup, html};
use service::programme::{DayWords, DraftView, DraftedWeek, MuscleLine};

use super::drafts::{DraftPage, DraftPlace, DraftStatus, EndedWhy};
use super::error::sentence;
use super::layout::{self, Footer};
use super::programme_page::{Buttons, finding_items};
use crate::wording::{count, decimal, from_lifts};

/// Seconds after which the page is loaded anew while nothing stands yet, and afterwards.
const RENEWED: (u8, u8) = (1, 3);

/// Draws the page.
pub(super) fn draft_page(page: &DraftPage) -> Markup {
    let path = layout::programme_path(&page.lifter);
    let here = layout::draft_path(&page.lifter, &page.id);
    let view = page.view.as_deref();
    let heading = match view {
        Some(view) if !view.contradiction.is_empty() => "These wishes can't all be kept",
        _ => "A week for ",
    };
    let body = html! {
        p.above {
            a href=(layout::lifter_path(&page.lifter)) { (page.lifter) } " › "
            a href=(path) { "Programme" }
        }
        h1 { (heading) @if heading.ends_with(' ') { (page.lifter) } }
        @match view {
            Some(view) if !view.contradiction.is_empty() => (contradiction(view, page, &path)),
            _ => {
                (status(page))
                (ways(page, &path, &here))
                @if let Some(view) = view { (weeks(view, page, &here)) }
            }
        }
        (wishes(page))
    };
    layout::page(&format!("A week for {}", page.lifter), Footer::Cautions, &body)
}

/// The seconds after which a browser is to load the page anew; none if it stays as it is.
pub(super) fn renewed_after(page: &DraftPage) -> Option<u8> {
    let is_looking = matches!(page.status, DraftStatus::Looking { .. });
    let seconds = if page.view.is_none() { RENEWED.0 } else { RENEWED.1 };
    (is_looking && !page.is_still).then_some(seconds)
}

fn status(page: &DraftPage) -> Markup {
    let n_weeks = page.view.as_ref().map_or(0, |view| view.weeks.len());
    html! {
        p.lede role="status" {
            @match &page.status {
                DraftStatus::Looking { found: false, week: 1, seconds, .. } => {
                    "Looking for a week that keeps to all wishes (" (seconds) " s)."
                },
                DraftStatus::Looking { week: 1, gap_pct, seconds, .. } => {
                    "After " (seconds) " s this week stands, " (gap(*gap_pct)) ". Still looking for a better one."
                },
                DraftStatus::Looking { week, seconds, .. } => {
                    "After " (seconds) " s " (count(*week as u64 - 1, "week stands", "weeks stand"))
                    ". Looking for another that is plainly different."
                },
                DraftStatus::Ended { why: EndedWhy::Failed(reason), .. } => { (sentence(reason)) },
                DraftStatus::Ended { why, seconds } => {
                    @match n_weeks {
                        0 => "No week was found.",
                        1 => "One week stands.",
                        _ => { (n_weeks) " weeks stand, the best first." },
                    }
                    " " (ended(why, *seconds))
                },
            }
        }
    }
}

fn ended(why: &EndedWhy, seconds: u64) -> String {
    let took = format!("{seconds} s");
    match why {
        EndedWhy::Done => format!("The search took {took}."),
        EndedWhy::Stopped => format!("You ended the search after {took}."),
        EndedWhy::Left => {
            format!("The search was given up after {took}, since nobody looked on.")
        }
        EndedWhy::AnotherBegan => {
            format!("The search was ended after {took}, when another was begun.")
        }
        EndedWhy::Failed(reason) => reason.clone(),
    }
}

/// How far a week is at most from the best that can be, as a phrase.
fn gap(gap_pct: Option<f64>) -> String {
    match gap_pct {
        Some(gap) if gap < 0.05 => "and no week can be better by its points".to_owned(),
        Some(gap) => format!("at most {}\u{a0}% short of the best there can be", decimal(gap, 1)),
        None => "and how good a week could be isn't known".to_owned(),
    }
}

fn ways(page: &DraftPage, path: &str, here: &str) -> Markup {
    let place = DraftPlace { id: page.id.clone(), stood: page.stood, week: 1 };
    let is_looking = matches!(page.status, DraftStatus::Looking { .. });
    let has_week = page.view.as_ref().is_some_and(|view| !view.weeks.is_empty());
    html! {
        form.draft-ways method="post" action=(here) {
            @if has_week {
                button type="submit" name="take" value=(place) {
                    @if is_looking { "Take this week as it stands" } @else { "Take the first week" }
                }
            }
            @if is_looking { button.plain type="submit" { "Stop looking" } }
        }
        ul.ways-on {
            li { a href={ (path) "/draft?of=" (place) } { "Change the wishes" } }
            @if is_looking {
                li {
                    @if page.is_still { a href=(here) { "Let the page renew itself" } }
                    @else { a href={ (here) "?still" } { "Hold the page still" } }
                }
            }
        }
        @if is_looking && !page.is_still {
            p.aside { "This page renews itself every few seconds while the search goes on. Leave it, and the search ends." }
        }
    }
}

fn weeks(view: &DraftView, page: &DraftPage, here: &str) -> Markup {
    html! {
        @for note in &view.notes { p.aside { (note) } }
        @if let Some(first) = view.weeks.first() { (first_week(first, view, page)) }
        @if view.weeks.len() > 1 { (beside(view, page, here)) }
        @if !view.weeks.is_empty() { (how_good()) }
    }
}

fn first_week(week: &DraftedWeek, view: &DraftView, page: &DraftPage) -> Markup {
    let is_looking = matches!(page.status, DraftStatus::Looking { .. });
    html! {
        section.part aria-labelledby="week-1" {
            h2 #week-1 { @if is_looking { "The best week so far" } @else { "The best week found" } }
            p {
                (sentence(&capital_gap(week)))
                @if let Some((kept, all)) = week.kept {
                    " Of what is done now " (kept) " of " (count(all as u64, "lift stays on its day", "lifts stay on their days")) "."
                }
            }
            (days(week, true))
            @if !week.check.findings.is_empty() {
                h3 { "What a coach would remark" }
                ul.findings { (finding_items(&week.check.findings, Buttons::None)) }
            }
            h3 { "What each muscle gets" }
            p.aside { (view.recovery) }
            (muscles(week))
        }
    }
}

fn capital_gap(week: &DraftedWeek) -> String {
    match week.gap_pct {
        Some(gap) if gap < 0.05 => "no week can be better by its points".to_owned(),
        Some(gap) => {
            format!(
                "by its points it is at most {}\u{a0}% short of the best there can be",
                decimal(gap, 1)
            )
        }
        None => "how good a week could be isn't known".to_owned(),
    }
}

fn days(week: &DraftedWeek, is_large: bool) -> Markup {
    let class = if is_large { "programme-days" } else { "days-beside" };
    html! {
        div class=(class) {
            @for (day, looked) in week.days.iter().zip(&week.check.days) { (day_part(day, looked.minutes, looked.minutes_there)) }
        }
    }
}

fn day_part(day: &DayWords, minutes: u32, there: Option<u16>) -> Markup {
    html! {
        section.programme-day {
            h3 {
                (day.weekday)
                span.aside {
                    " about " (minutes)
                    @if let Some(there) = there { " of " (there) }
                    " min"
                }
            }
            ol {
                @for lift in &day.lifts {
                    li { span.lift-name { (lift.lift) } " " span.planned { (lift.sets) } }
                }
            }
        }
    }
}

fn muscles(week: &DraftedWeek) -> Markup {
    let (asked, along): (Vec<&MuscleLine>, Vec<&MuscleLine>) =
        week.muscles.iter().partition(|muscle| muscle.asked);
    html! {
        div.wide tabindex="0" role="region" aria-label="What each muscle gets" {
            table.accounts {
                thead {
                    tr {
                        th scope="col" { "Muscle" }
                        th.n scope="col" { "Hard sets a week" }
                        th.n scope="col" { "Aim" }
                        th scope="col" { "From, and what stands in the way of more" }
                    }
                }
                tbody {
                    @for muscle in asked {
                        tr {
                            th scope="row" { (muscle.muscle) }
                            td.n { (decimal(muscle.dose, 1)) }
                            td.n { (decimal(muscle.range.1, 1)) }
                            td.why {
                                (from_lifts(muscle))
                                @if let Some(limits) = &muscle.limits { br; span.aside { (limits) } }
                            }
                        }
                    }
                }
            }
        }
        @if !along.is_empty() {
            p.aside {
                "Trained along: "
                (along.iter().map(|muscle| format!("{} {}", muscle.muscle, decimal(muscle.dose, 1))).collect::<Vec<_>>().join(", "))
                "."
            }
        }
    }
}

/// The weeks side by side.
fn beside(view: &DraftView, page: &DraftPage, here: &str) -> Markup {
    let place = |week: usize| DraftPlace { id: page.id.clone(), stood: page.stood, week };
    html! {
        section.part aria-labelledby="beside" {
            h2 #beside { "Side by side" }
            p { "Weeks that differ plainly from each other: other lifts, or the same ones on other days." }
            div.weeks-beside {
                @for (idx, week) in view.weeks.iter().enumerate() {
                    section aria-labelledby={ "beside-" (idx + 1) } {
                        h3 id={ "beside-" (idx + 1) } { "Week " (idx + 1) }
                        p.aside {
                            @if idx == 0 { "The best by its points." }
                            @else if week.behind_pct < 0.05 { "As good as the first by its points." }
                            @else { (decimal(week.behind_pct, 1)) "\u{a0}% behind the first." }
                            @if let Some((kept, all)) = week.kept { " Keeps " (kept) " of " (all) "." }
                        }
                        (days(week, false))
                        form method="post" action=(here) {
                            button.plain type="submit" name="take" value=(place(idx + 1)) { "Take week " (idx + 1) }
                        }
                    }
                }
            }
            h3 { "Hard sets a week" }
            (doses_beside(view))
        }
    }
}

fn doses_beside(view: &DraftView) -> Markup {
    let mut muscles: Vec<&str> = Vec::new();
    for line in view.weeks.iter().flat_map(|week| &week.muscles) {
        if !muscles.contains(&line.muscle) {
            muscles.push(line.muscle);
        }
    }
    let dose = |week: &DraftedWeek, muscle: &str| {
        let line = week.muscles.iter().find(|line| line.muscle == muscle);
        line.map_or("–".to_owned(), |line| decimal(line.dose, 1))
    };
    html! {
        div.wide tabindex="0" role="region" aria-label="Hard sets a week, side by side" {
            table {
                thead {
                    tr {
                        th scope="col" { "Muscle" }
                        @for week in 1..=view.weeks.len() { th.n scope="col" { "Week " (week) } }
                    }
                }
                tbody {
                    @for muscle in muscles {
                        tr {
                            th scope="row" { (muscle) }
                            @for week in &view.weeks { td.n { (dose(week, muscle)) } }
                        }
                    }
                }
            }
        }
    }
}

fn how_good() -> Markup {
    html! {
        details {
            summary { "What the points and the % mean" }
            p {
                "A week gets points for hard sets, most for the first ones of a muscle, for lifts that are to go up, for what is "
                "kept, and loses some for crowded sessions and one-sided training. The points mean nothing but which of two "
                "weeks does better by these wishes."
            }
            p {
                "No week can have more points than the same wishes allow if sets could be broken into parts; that much is proven. "
                "A week within a few % of it may well be the best there is, since sets can't be broken. Whether it is a good week "
                "for this person is yours to say."
            }
        }
    }
}

fn contradiction(view: &DraftView, page: &DraftPage, path: &str) -> Markup {
    let place = DraftPlace { id: page.id.clone(), stood: page.stood, week: 1 };
    html! {
        p.lede { "No week keeps to all of them. These stand in each other's way, and no week keeps them all however the rest is chosen:" }
        ul.contrary {
            @for wish in &view.contradiction {
                li {
                    (sentence(&wish.words)) " "
                    a href={ (path) "/draft?of=" (place) "#field-" (wish.field) } { "Change this wish" }
                }
            }
        }
        p { "Give up or loosen one of them and draft again; if other wishes contradict each other too, they are named then." }
    }
}

fn wishes(page: &DraftPage) -> Markup {
    html! {
        details {
            summary { "The wishes as a file" }
            p { "For the command " code { "bellwether programme draft FILE --lifter NAME" } ", which looks for longer and gives the same weeks on every machine." }
            pre.file tabindex="0" role="region" aria-label="The wishes as a file" { (page.wishes) }
        }
    }
}
