//! `doctor`: looks the store over.

use clap::Args;
use serde_json::json;
use service::{Severity, examine};

use super::Everywhere;
use super::backup::{self, FolderArgs};
use super::exit::{Exit, Failure};
use super::paper::Paper;
use super::said::Said;

/// Look the store over: is it whole, can it be written, is there room
///
/// Changes nothing. Ends with 4 if something has to be done now.
#[derive(Args, Debug)]
pub(crate) struct DoctorArgs {
    #[command(flatten)]
    folder: FolderArgs,
}

pub(crate) fn run(args: &DoctorArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let path = everywhere.store_path()?;
    // First, since looking the file over ends with nobody having it open.
    let backup = backup::finding(&path, &args.folder);
    let mut found = examine(&path);
    found.findings.extend(backup);
    let mut paper = Paper::default();
    paper.line(&format!("The store `{}`", path.display())).gap();
    for finding in &found.findings {
        let mark = finding.severity.as_str();
        paper.item(&format!("{mark:<13}"), &format!("{}: {}", finding.what, finding.words));
        if !finding.cure.is_empty() {
            paper.item(&" ".repeat(13), &format!("→ {}", finding.cure));
        }
    }
    paper.gap().paragraph(match found.worst() {
        Severity::Fine => "All is well.",
        Severity::LookAtThis => "Nothing is wrong, but look at what is marked.",
        Severity::ActNow => "Something is wrong: do what is marked `act now` first.",
    });
    let findings: Vec<_> = found
        .findings
        .iter()
        .map(|f| json!({ "what": f.what, "severity": f.severity.as_str(), "words": f.words, "cure": f.cure }))
        .collect();
    let exit = if found.worst() == Severity::ActNow { Exit::Store } else { Exit::Done };
    let json = json!({ "store": path, "worst": found.worst().as_str(), "findings": findings });
    Said::ended(paper.finish(), &json, exit)
}
