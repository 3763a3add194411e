//! The page of a lifter's joints: pain over time, the lifts it goes with, lifts to take instead, and every
//! joint's load.

use maud::{Markup, html};
use service::joints::record::{JointGroup, JointRecord, JointsView};

use super::layout::{self, Footer};
use super::pain;
use crate::chart::{self, Size};
use crate::wording::{self, decimal};

/// Draws the page.
pub(super) fn joints_page(view: &JointsView) -> Markup {
    let body = html! {
        p.above { a href=(layout::lifter_path(&view.lifter)) { (view.lifter) } }
        h1 { "Joints" }
        @if let Some(remark) = view.remark { p.aside { (remark) } }
        p.aside { (view.cautions) }
        (pain::complaints(&view.lifter, &view.complaints, None))
        @if view.told.is_empty() {
            p {
                "No pain was told yet. It can be told at any set on the gym floor, in a check-in, and when a "
                "lifter is taken on. From then on this page shows when it was told, what loads the joint, and "
                "which lifts it goes with."
            }
        }
        @for (place, joint) in view.told.iter().enumerate() { (joint_section(view, joint, place)) }
        @if !view.told.is_empty() { p.aside { (view.limits) } }
        (loads(view))
        (pain::any_joint(&view.lifter, None))
    };
    layout::page(&format!("Joints of {}", view.lifter), Footer::Cautions, &body)
}

fn joint_section(view: &JointsView, joint: &JointRecord, place: usize) -> Markup {
    let id = format!("joint-{}", place + 1);
    let large = chart::pain(joint, view.limit, Size::Large, &id);
    let small = chart::pain(joint, view.limit, Size::Small, &id);
    html! {
        section.part aria-labelledby=(id) {
            h2 id=(id) { (wording::capitalised(joint.joint)) }
            p {
                (joint.summary)
                @if joint.spared { " The programme spares this joint." }
            }
            @if let (Some(large), Some(small)) = (large, small) {
                figure.strip {
                    (large) (small)
                    figcaption {
                        p.legend {
                            "Discs: pain as told, squares above the limit of " (view.limit) " (broken line). Bars: "
                            "sets of the week, each counted by how much its lift loads the joint."
                        }
                    }
                }
            }
            (lifts(view, joint))
            details {
                summary { "Every rating as a table" }
                div.wide tabindex="0" role="region" aria-label={ "Pain told in the " (joint.joint) } {
                    table {
                        thead { tr { th scope="col" { "Day" } th.n scope="col" { "Of 10" } } }
                        tbody {
                            @for line in joint.ratings.iter().rev() {
                                tr {
                                    th scope="row" { (wording::date_with_weekday(line.date)) }
                                    td.n { (line.rating) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn lifts(view: &JointsView, joint: &JointRecord) -> Markup {
    let (in_use, past): (Vec<_>, Vec<_>) = joint.groups.iter().partition(|group| group.in_use);
    html! {
        @if let Some(too_little) = &joint.too_little { p { (too_little) } }
        @if in_use.is_empty() {
            p { "No lift in use loads it, by the catalogue." }
        } @else {
            h3 { "Lifts in use that load it" }
            ul.joint-lifts { @for group in in_use { (group_item(view, group)) } }
        }
        @if !past.is_empty() {
            details {
                summary { "Lifts that loaded it before" }
                ul.joint-lifts { @for group in past { (group_item(view, group)) } }
            }
        }
    }
}

fn group_item(view: &JointsView, group: &JointGroup) -> Markup {
    html! {
        li {
            @for lift in &group.lifts {
                p {
                    a href=(layout::lift_path(&view.lifter, &lift.lift)) { (lift.lift) }
                    " loads it " (wording::joint_load(lift.load)) "."
                    @if let Some(swap) = &lift.swap {
                        " Instead: " strong { (swap.lift) } ", which trains " (wording::trains_alike(swap.alike))
                        " and loads it " (wording::joint_load(swap.load)) "."
                    }
                }
            }
            @if let Some(pain) = &group.pain {
                p.aside {
                    @if group.lifts.len() > 1 { "Always done on the same days. " }
                    (pain.words)
                }
            }
        }
    }
}

fn loads(view: &JointsView) -> Markup {
    html! {
        section.part aria-labelledby="loads" {
            h2 #loads { "Load of every joint" }
            @if view.loads.is_empty() {
                p { "No set of the last four weeks loads a joint." }
            } @else {
                p {
                    "Sets of a week, each counted by how much its lift loads the joint: a way to compare weeks, "
                    "and no measure of force. The weights are common practice, no source."
                }
                div.wide tabindex="0" role="region" aria-label="Load by weeks" {
                    table {
                        thead {
                            tr {
                                th scope="col" { "Joint" }
                                @for (place, monday) in view.weeks.iter().enumerate() {
                                    th.n scope="col" {
                                        @if place == 0 { "This week" } @else { "Week of " (wording::short_day(*monday)) }
                                    }
                                }
                            }
                        }
                        tbody {
                            @for load in &view.loads {
                                tr {
                                    th scope="row" { (load.joint) }
                                    @for sets in &load.sets { td.n { (decimal(*sets, 1)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
