//! The page of a lifter's programme: its days, what a coach would remark, what it doses, and the ways to
//! change it.

use maud::{Markup, html};
use service::floor::LinkLine;
use service::forms::{Fields, Problems};
use service::programme::view::{CheckView, DayView, DoseView, FindingView, JointView, MuscleDose};
use service::programme::{
    DayWords, Followed, FollowedView, ProgrammePageView, ProgrammeVersionLine,
};

use super::calendar;
use super::error::sentence;
use super::form::{Form, Input};
use super::layout::{self, Footer};
use crate::wording::{self, decimal};

/// Which of the page's forms was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sent {
    /// The one that takes a file's text.
    Text,
    /// The one that copies another lifter's programme.
    Copy,
}

/// Draws the page; `done` says what was just changed, `sent` what was typed and is wrong with it.
pub(super) fn programme_page(
    view: &ProgrammePageView,
    links: &[LinkLine],
    done: Option<&str>,
    sent: Option<(Sent, &Fields, &Problems)>,
) -> Markup {
    let followed = &view.followed;
    let path = layout::programme_path(&followed.lifter);
    let body = html! {
        p.above { a href=(layout::lifter_path(&followed.lifter)) { (followed.lifter) } }
        @match &followed.now {
            Some(now) => (following(view, now, done, &path)),
            None => {
                h1 { "No programme yet" }
                @if let Some(done) = done { p.done role="status" { (done) } }
                p.lede {
                    "Until " (followed.lifter) " follows one, cards take their lifts from the log: the session of "
                    "the same weekday, or the kind that is longest ago."
                }
                ul.ways-on {
                    li { a.main-way href={ (path) "/draft" } { "Draft a week" } }
                    li { a.main-way href={ (path) "/edit" } { "Write a programme by hand" } }
                }
            },
        }
        @if let Some(check) = &view.check { (remarks(check, Buttons::To(&format!("{path}/edit")))) }
        @if let Some(dose) = &view.dose { (doses(dose)) }
        @if let Some(check) = view.check.as_ref().filter(|check| !check.joints.is_empty()) {
            section.part.joint-load aria-labelledby="joints" {
                h2 #joints { "How it loads the joints" }
                (joint_loads(check))
            }
        }
        (other_ways(view, &path, sent))
        (calendar::section(&followed.lifter, links))
        (before(followed))
    };
    let title = format!("Programme of {}", followed.lifter);
    layout::page(&title, Footer::Cautions, &body)
}

fn following(page: &ProgrammePageView, now: &Followed, done: Option<&str>, path: &str) -> Markup {
    let view = &page.followed;
    let note = now.programme.note.as_str();
    html! {
        h1 { (now.programme.name) }
        @if let Some(done) = done { p.done role="status" { (done) } }
        p.lede {
            @match view.week {
                None => { "Its first week begins on " (wording::date_with_weekday(now.first_monday())) "." },
                Some((_, 1)) => { "Followed since the week of " (wording::date(now.first_monday())) "." },
                Some((week, weeks)) => {
                    "Week " (week) " of " (weeks) ", followed since the week of " (wording::date(now.first_monday())) "."
                },
            }
        }
        @if !note.is_empty() { p { (note) } }
        ul.ways-on {
            li { a.main-way href={ (path) "/edit" } { "Change it" } }
            li { a.main-way href={ (path) "/draft" } { "Draft a week" } }
            li { a.main-way href={ (path) "/changes" } { "Other than planned" } }
        }
        @if !view.changes.is_empty() {
            ul.plan-now { @for words in &view.changes { li { (words) } } }
        }
        div.programme-days { @for day in &view.days { (day_section(day, page.check.as_ref())) } }
        @if page.check.is_some() { p.aside { "Minutes are estimated, with warm-ups and rests." } }
    }
}

fn day_section(day: &DayWords, check: Option<&CheckView>) -> Markup {
    let estimated = check.and_then(|check| day_of(check, day.weekday));
    html! {
        section.programme-day {
            h2 {
                (day.weekday)
                @match (estimated, day.minutes) {
                    (Some(estimated), _) => { " " (minutes(estimated)) },
                    (None, Some(there)) => span.aside { " " (there) " min there" },
                    (None, None) => {},
                }
            }
            ol {
                @for lift in &day.lifts {
                    li {
                        span.lift-name { (lift.lift) } " "
                        span.planned { (lift.sets) }
                        p.aside {
                            (lift.moves_on)
                            @if let Some(rest) = &lift.rest { "; rest " (rest) }
                        }
                    }
                }
            }
        }
    }
}

/// A day of a check by its weekday.
pub(super) fn day_of<'a>(check: &'a CheckView, weekday: &str) -> Option<&'a DayView> {
    check.days.iter().find(|day| day.weekday == weekday)
}

/// The minutes that a day takes, estimated, and those that there are, if told.
pub(super) fn minutes(day: &DayView) -> Markup {
    html! {
        span.aside {
            "about " (day.minutes) "\u{a0}min"
            @if let Some(there) = day.minutes_there { " of " (there) }
        }
    }
}

/// What each joint bears, by day and week, and what that means.
pub(super) fn joint_loads(check: &CheckView) -> Markup {
    html! {
        p {
            "Work sets, each counted by how much its lift loads the joint, from 0 to 1. That compares days and weeks "
            "of one joint; it measures no force and is no limit."
        }
        div.wide tabindex="0" role="region" aria-label="Load on joints by day and week" {
            table.by-day {
                thead {
                    tr {
                        th scope="col" { "Joint" }
                        @for day in &check.days { th.n scope="col" { (&day.weekday[..3]) } }
                        th.n scope="col" { "Week" }
                    }
                }
                tbody { @for joint in &check.joints { (joint_row(joint)) } }
            }
        }
    }
}

fn joint_row(row: &JointView) -> Markup {
    html! {
        tr {
            th scope="row" { (row.joint) @if row.spared { " (to be spared)" } @else if row.complains { " (complains)" } }
            @for sets in &row.days { td.n { (sets_or_dash(*sets)) } }
            td.n { (decimal(row.week, 1)) }
        }
    }
}

fn sets_or_dash(sets: f64) -> String {
    if sets > 0.0 { decimal(sets, 1) } else { "–".to_owned() }
}

/// What a coach would remark, worst first.
///
/// What a change would cure has a button; in the programme's form it sends that form, on other pages one of its own.
pub(super) fn remarks(check: &CheckView, buttons: Buttons<'_>) -> Markup {
    html! {
        section.part aria-labelledby="remarks" {
            h2 #remarks { "What a coach would remark" }
            p.aside { (check.recovery) }
            @if check.findings.is_empty() { p { "Nothing." } }
            @else { ul.findings { (finding_items(&check.findings, buttons)) } }
            @if !check.spotted.is_empty() {
                p { "With a spotter or safety bars: " (check.spotted.join(", ")) "." }
            }
        }
    }
}

/// Where the buttons beside remarks belong.
#[derive(Clone, Copy, Debug)]
pub(super) enum Buttons<'a> {
    /// To the form with this id, on the same page.
    OfForm(&'a str),
    /// To the form at this address.
    To(&'a str),
    /// There are none.
    None,
}

/// Findings as items of a list, worst first.
pub(super) fn finding_items(findings: &[FindingView], buttons: Buttons<'_>) -> Markup {
    html! { @for finding in findings { (finding_item(finding, buttons)) } }
}

fn finding_item(finding: &FindingView, buttons: Buttons<'_>) -> Markup {
    html! {
        li {
            p {
                strong.urgency { (finding.urgency) } " · "
                @if finding.place != "week" { (finding.place) ": " }
                (sentence(&finding.words))
            }
            @match (&finding.mend, &finding.cure) {
                (Some(mend), _) => (mend_button(finding, mend, buttons)),
                (None, Some(cure)) => p.cure { (sentence(cure)) },
                (None, None) => {},
            }
        }
    }
}

fn mend_button(finding: &FindingView, mend: &str, buttons: Buttons<'_>) -> Markup {
    html! {
        div.mend {
            span { (sentence(mend)) }
            @match buttons {
                Buttons::OfForm(form) => {
                    button.plain type="submit" form=(form) name="mend" value=(finding.key())
                        aria-label={ "Change it: " (mend.replace('`', "")) } { "Change it" }
                },
                Buttons::To(path) => {
                    form method="post" action=(path) {
                        button.plain type="submit" name="mend" value=(finding.key())
                            aria-label={ "Change it: " (mend.replace('`', "")) } { "Change it" }
                    }
                },
                Buttons::None => {},
            }
        }
    }
}

fn doses(dose: &DoseView) -> Markup {
    html! {
        section.part aria-labelledby="dose" {
            h2 #dose { "What it doses" }
            p {
                "Hard sets of each muscle in a week, as planned, against the range meant for it: direct ones as a prime "
                "mover, and those in which it only assists, by its weight."
            }
            div.wide tabindex="0" role="region" aria-label="Dose by muscle" {
                table.by-day {
                    thead {
                        tr {
                            th scope="col" { "Muscle" }
                            th.n scope="col" { "Week" }
                            th.n scope="col" { "Least–aim–most" }
                            th scope="col" { "Verdict" }
                            th.n scope="col" { "Direct" }
                            th.n scope="col" { "Assisting" }
                            @for weekday in &dose.weekdays { th.n scope="col" { (&weekday[..3]) } }
                        }
                    }
                    tbody { @for muscle in &dose.muscles { (muscle_row(muscle)) } }
                }
            }
            details {
                summary { "How sets are counted, and where the ranges come from" }
                @for note in &dose.notes { p { (note) } }
            }
        }
    }
}

fn muscle_row(row: &MuscleDose) -> Markup {
    let (least, aim, most) = row.range;
    html! {
        tr {
            th scope="row" { (row.muscle) }
            td.n { (decimal(row.total, 1)) }
            td.n {
                (decimal(least, 1)) "–" (decimal(aim, 1)) "–" (decimal(most, 1))
                @if row.own_range { " (own)" }
            }
            td { (row.verdict) }
            td.n { (sets_or_dash(row.direct)) }
            td.n { (sets_or_dash(row.assisting)) }
            @for sets in &row.days { td.n { (sets_or_dash(*sets)) } }
        }
    }
}

fn other_ways(
    view: &ProgrammePageView,
    path: &str,
    sent: Option<(Sent, &Fields, &Problems)>,
) -> Markup {
    let begins_now = view.followed.now.as_ref().map_or(view.today, |now| now.begins);
    let fields = Fields::default().with("copy_begins", view.today).with("file_begins", begins_now);
    let nothing = (fields, Problems::default());
    let of = |which: Sent| match sent {
        Some((sent, fields, problems)) if sent == which => Form { fields, problems },
        _ => Form { fields: &nothing.0, problems: &nothing.1 },
    };
    let is_open = |which: Sent| sent.is_some_and(|(sent, ..)| sent == which);
    let takes_place = view.followed.now.is_some();
    html! {
        section.part aria-labelledby="other-ways" {
            h2 #other-ways { "Other ways" }
            @if takes_place { p { "Each takes the place of what stands above, which is kept." } }
            @if !view.others.is_empty() {
                details open[is_open(Sent::Copy)] {
                    summary { "Copy another lifter's" }
                    form.fields method="post" action={ (path) "/copy" } {
                        (of(Sent::Copy).choice("from", "Whose", view.others.iter().map(|(who, what)| (who.as_str(), what.as_str())).map(|(who, _)| (who, who))))
                        (begins(of(Sent::Copy), "copy_begins"))
                        button type="submit" { "Copy it" }
                    }
                    ul.totals { @for (who, what) in &view.others { li { (who) ": " (what) } } }
                }
            }
            details #as-a-file open[is_open(Sent::Text)] {
                summary { "As a file" }
                @if let Some(now) = &view.followed.now {
                    p { "The file of the programme as it stands, to keep or to mend elsewhere:" }
                    pre.file tabindex="0" role="region" aria-label="The programme's file" { (now.text) }
                }
                form.fields.broad method="post" action={ (path) "/file" } {
                    (of(Sent::Text).area("text", "Paste a programme file", 10, "Text in TOML, as the guide to programme files describes it."))
                    (begins(of(Sent::Text), "file_begins"))
                    button type="submit" { "Keep this file" }
                }
            }
            @if takes_place {
                details {
                    summary { "Take the programme away" }
                    form.fields method="post" action={ (path) "/withdraw" } {
                        p { "Cards follow the log again. The programme is kept below." }
                        (of(Sent::Copy).input("reason", "Why, if you like", Input::Text))
                        button.plain type="submit" { "Take it away" }
                    }
                }
            }
        }
    }
}

fn begins(form: Form<'_>, field: &str) -> Markup {
    form.input_with(
        field,
        "The day it begins",
        Input::Date,
        "Its weeks, and with them waves, are counted from its first session from then on.",
    )
}

fn before(view: &FollowedView) -> Markup {
    let skipped = usize::from(view.now.is_some());
    let older: Vec<&ProgrammeVersionLine> = view.versions.iter().skip(skipped).collect();
    html! {
        @if !older.is_empty() {
            section.part aria-labelledby="before" {
                h2 #before { "Before" }
                ul.versions {
                    @for version in older {
                        li {
                            (version.programme)
                            @if version.is_withdrawn { ", taken away " } @else { ", set " }
                            span.recorded { (wording::instant(version.recorded)) }
                            @if !version.reason.is_empty() { ": " (version.reason) }
                        }
                    }
                }
            }
        }
    }
}
