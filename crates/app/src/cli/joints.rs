//! `joints`: pain as it was told, the lifts that it goes with, and what loads each joint.

use clap::Args;
use service::forms::Fields;
use service::joints::record::{JointGroup, JointRecord, JointsView};
use service::view::ComplaintView;
use service::{Desk, ServiceError};

use super::Everywhere;
use super::clock::{moment_on, now};
use super::exit::Failure;
use super::lifts::lifter_name;
use super::paper::{Column, Paper};
use super::said::Said;
use crate::wording::{self, decimal};

/// Show a lifter's joints: pain over time, the lifts it goes with, lifts to take instead
///
/// With a joint and a rating: records how it feels now, then shows the joints. A rating at or below the lifter's limit
/// answers an older one above it.
#[derive(Args, Debug)]
pub(crate) struct JointsArgs {
    /// The lifter's name
    lifter: String,
    /// The joint to rate: shoulder, elbow, wrist, neck, upper_back, lower_back, hip, knee or ankle
    #[arg(long, requires = "pain")]
    joint: Option<String>,
    /// How much it hurts now, from 0 (none) to 10 (the worst imaginable)
    #[arg(long, requires = "joint", value_name = "RATING")]
    pain: Option<String>,
}

pub(crate) fn run(args: &JointsArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let name = lifter_name(&args.lifter)?;
    let desk = Desk::new(everywhere.open()?).keeping_fits(now);
    let mut recorded = None;
    if let (Some(joint), Some(pain)) = (&args.joint, &args.pain) {
        let fields = Fields::default().with("joint", joint).with("pain", pain);
        let at = moment_on(everywhere.today()).map_err(ServiceError::from)?;
        let pain = desk.rate_joint(&name, &fields, (at, now()))?;
        recorded = Some(format!("Recorded: {} {} of 10.", pain.joint.label(), pain.rating()));
    }
    let view = desk.joints(&name, everywhere.today())?;
    Said::done(words(&view, recorded.as_deref(), everywhere), &view)
}

/// The command that answers a complaint.
pub(super) fn how_to_answer(
    lifter: &str,
    complaint: &ComplaintView,
    everywhere: &Everywhere,
) -> String {
    let joints = format!("joints \"{lifter}\" --joint {} --pain RATING", complaint.key);
    format!("Answer with: {}", everywhere.command(&joints))
}

fn words(view: &JointsView, recorded: Option<&str>, everywhere: &Everywhere) -> String {
    let mut paper = Paper::default();
    if let Some(recorded) = recorded {
        paper.paragraph(recorded).gap();
    }
    paper.line(&format!("Joints of {}, {}", view.lifter, wording::date_with_weekday(view.today)));
    if view.told.is_empty() {
        paper.gap().paragraph("No pain was told yet.");
    }
    for complaint in &view.complaints {
        paper.gap().item("! ", &complaint.words);
        paper.item("  ", &how_to_answer(&view.lifter, complaint, everywhere));
    }
    for joint in &view.told {
        joint_words(&mut paper, joint);
    }
    if !view.told.is_empty() {
        paper.gap().paragraph(view.limits);
    }
    if !view.loads.is_empty() {
        paper.gap().line("Sets of a week, weighted by how much a lift loads the joint");
        let mut first = vec![String::new(), "this week".to_owned()];
        first.extend(view.weeks.iter().skip(1).map(|monday| wording::short_day(*monday)));
        let mut rows = vec![first];
        for load in &view.loads {
            let sets = load.sets.iter().map(|sets| decimal(*sets, 1));
            rows.push(std::iter::once(load.joint.to_owned()).chain(sets).collect());
        }
        let columns: Vec<Column> =
            std::iter::once(Column::Left).chain(vec![Column::Right; view.weeks.len()]).collect();
        paper.table(2, &columns, &rows);
    }
    paper.gap().paragraph(view.cautions);
    paper.finish()
}

fn joint_words(paper: &mut Paper, joint: &JointRecord) {
    let spared = if joint.spared { " (spared by the programme)" } else { "" };
    paper.gap().line(&format!("{}{spared}", wording::capitalised(joint.joint)));
    paper.item("  ", &joint.summary);
    let last: Vec<String> = joint
        .ratings
        .iter()
        .rev()
        .take(6)
        .map(|line| format!("{} on {}", line.rating, wording::short_day(line.date)))
        .collect();
    paper.item("  ", &format!("Latest ratings of 10: {}.", last.join(", ")));
    if let Some(too_little) = &joint.too_little {
        paper.item("  ", too_little);
    }
    for group in joint.groups.iter().filter(|group| group.in_use) {
        group_words(paper, group);
    }
}

fn group_words(paper: &mut Paper, group: &JointGroup) {
    for (place, lift) in group.lifts.iter().enumerate() {
        let instead = lift.swap.as_ref().map_or(String::new(), |swap| {
            format!(
                " Instead: {}, which trains {} and loads it {}.",
                swap.lift,
                wording::trains_alike(swap.alike),
                wording::joint_load(swap.load)
            )
        });
        let load = wording::joint_load(lift.load);
        let first = if place == 0 { "  - " } else { "    " };
        paper.item(first, &format!("{} loads it {load}.{instead}", lift.lift));
    }
    if let Some(pain) = &group.pain {
        let together = if group.lifts.len() > 1 { "Always done on the same days. " } else { "" };
        paper.item("      ", &format!("{together}{}", pain.words));
    }
}
