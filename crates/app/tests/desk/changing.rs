//! What the invented desk says of one lift and one set, and the pages made of it.

use axum::http::StatusCode;
use bellwether::web::{Changes, Desk, DeskError, FormTaken};
use domain::{LiftName, LifterName, Limits, Load, SetId, Unit};
use service::forms::{Fields, Problems};
use service::import::form::TableView;
use service::lifter::intake::IntakeView;
use service::view::*;

use crate::fixture::{self, InventedDesk, TODAY};
use crate::pages::{assert_document, get, post};

/// The only set of the fixture that has a page.
const SET: &str = "6f1ec6a3-3c0b-5f0e-9a55-0123456789ab";
const LIFT: &str = "/lifter/Ottoline%20Varkas/lift/romanian%20deadlift";

/// One lift of the invented squad as a page of its own.
pub(crate) fn lift(
    name: &LifterName,
    lift: &LiftName,
    costs: &Fields,
) -> Result<LiftPageView, DeskError> {
    let view = InventedDesk::default().lifter(name, Extent::Lately)?;
    let found = view.lifts.into_iter().find(|one| one.name == lift.as_str());
    let lift = found.ok_or_else(|| DeskError::NotThere(format!("there is no lift `{lift}`")))?;
    let effect = |limits: &Limits, chances: Option<ChanceView>| CostsEffect {
        cut_for_nothing: limits.cut_for_nothing(),
        trained_through: limits.trained_through(),
        threshold: limits.threshold(),
        chances,
        eased: 5,
        read: 60,
    };
    let cost = |field: &str| costs.get(field).parse::<f64>().ok();
    let tried = cost("cut_for_nothing").zip(cost("trained_through"));
    let tried = tried.and_then(|(cut, through)| Limits::new(5, 2.0, cut, through).ok());
    let stricter = lift.chances.map(|now| ChanceView { false_alarm: 0.03, ..now });
    Ok(LiftPageView {
        lifter: view.name,
        unit: view.unit,
        today: TODAY,
        remark: None,
        costs: CostsView {
            in_force: effect(&Limits::default(), lift.chances),
            chosen: tried.map(|limits| effect(&limits, stricter)),
            shortfall_pct: 2.0,
            fields: costs.clone(),
            problems: Problems::default(),
        },
        lift,
        sets: (1..=30).rev().map(set_line).collect(),
        amended: vec![AmendedSet { id: SET.to_owned(), is_withdrawn: false, versions: versions() }],
    })
}

fn set_line(number: u8) -> SetLine {
    SetLine {
        id: SET.to_owned(),
        when: format!("2031-05-{:02}", 1 + number / 3),
        lift: "romanian deadlift".to_owned(),
        number: 1 + number % 3,
        kind: "work",
        load: Load::new(142.5, Unit::Kg).unwrap(),
        reps: 6,
        rir: Some(2.0),
        note: if number == 30 { "<i>felt</i> slow".to_owned() } else { String::new() },
        call: number.is_multiple_of(3).then_some(CallWord::GoOn),
    }
}

fn versions() -> Vec<SetVersionLine> {
    let version = |reps, reason: &str, source: &str, recorded: &str| SetVersionLine {
        set: SetLine { reps, ..set_line(3) },
        is_withdrawn: false,
        reason: reason.to_owned(),
        recorded: recorded.parse().unwrap(),
        source: source.to_owned(),
    };
    vec![
        version(8, "", "spring.csv", "2031-05-03T07:00:00Z"),
        version(6, "a miscount", "correction", "2031-05-04T18:30:00Z"),
    ]
}

impl Changes for InventedDesk {
    fn set(&self, name: &LifterName, id: SetId) -> Result<SetPageView, DeskError> {
        if id.to_string() != SET {
            return Err(DeskError::NotThere(format!("there is no set `{id}`")));
        }
        Ok(SetPageView {
            lifter: name.to_string(),
            lift: "romanian deadlift".to_owned(),
            id: SET.to_owned(),
            is_withdrawn: name.as_str() == "Ruben Maplethwaite",
            fields: Fields::default().with("date", "2031-05-02").with("reps", 6),
            known_lifts: vec!["back squat".to_owned(), "romanian deadlift".to_owned()],
            versions: versions(),
        })
    }

    fn correct_set(
        &self,
        _: &LifterName,
        _: SetId,
        _: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError> {
        Ok(FormTaken::Done(LiftName::new("romanian deadlift").unwrap()))
    }

    fn withdraw_set(
        &self,
        _: &LifterName,
        _: SetId,
        _: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError> {
        Ok(FormTaken::Done(LiftName::new("romanian deadlift").unwrap()))
    }

    fn settings(&self, name: &LifterName) -> Result<(LifterName, Fields), DeskError> {
        InventedDesk::default().lifter(name, Extent::Lately)?;
        let fields = Fields::default().with("unit", "lb").with("plates", "45 x 10\n25 x 2");
        Ok((name.clone(), fields))
    }

    fn set_settings(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn intake(&self) -> Result<IntakeView, DeskError> {
        Ok(IntakeView {
            fields: Fields::default().with("unit", "kg"),
            known_lifts: vec!["back squat".to_owned()],
            joints: vec![("elbow", "elbow"), ("knee", "knee")],
        })
    }

    fn take_on(&self, fields: &Fields) -> Result<FormTaken<LifterName>, DeskError> {
        Ok(FormTaken::Done(LifterName::new(fields.get("name")).unwrap()))
    }

    fn keep_table(&self, _: &str, _: Vec<u8>) -> String {
        "waiting".to_owned()
    }

    fn look_at_table(&self, id: &str, _: &Fields) -> Result<TableView, DeskError> {
        Err(DeskError::NotThere(format!("no table `{id}` waits here")))
    }

    fn import_table(&self, id: &str, fields: &Fields) -> Result<TableView, DeskError> {
        self.look_at_table(id, fields)
    }

    fn set_costs(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn rate_joint(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }
}

#[tokio::test]
async fn a_lift_has_its_record_verdict_costs_sets_and_changes() {
    let page = get(LIFT).await;
    assert_eq!(page.status, StatusCode::OK);
    let text = page.text;
    assert_document(LIFT, &text);
    assert_eq!(text.matches("chart record chart-large").count(), 1);
    let lift = &fixture::ottoline().lifts[1];
    assert_eq!(text.matches("<td class=\"why\">").count(), lift.points.len());
    assert!(text.contains("8 in 100") && text.contains("52 in 100"));
    assert!(text.contains("counts 3 times as much as losing a session's sets for nothing"));
    assert!(text.contains("30 sets on record") && text.contains("The other 18 sets"));
    assert_eq!(text.matches(&format!("/set/{SET}\" aria-label=\"change set ")).count(), 30);
    assert!(text.contains("&lt;i&gt;felt&lt;/i&gt; slow"));
    assert!(text.contains("Licensed") || text.contains("licensed professional"));
    // What stood before, and when: the latest first.
    let (corrected, recorded) = (text.find("corrected to").unwrap(), text.find("recorded as"));
    assert!(recorded.is_some_and(|first| corrected < first));
    assert!(text.contains("4 May 2031, 18:30 UTC") && text.contains("(a miscount)"));
    assert!(text.contains("(spring.csv)"));
}

#[tokio::test]
async fn costs_that_are_tried_stand_beside_those_in_force_and_can_be_kept() {
    let plain = get(LIFT).await.text;
    assert!(!plain.contains(">Tried") && !plain.contains("Use these costs"));
    let text = get(&format!("{LIFT}?cut_for_nothing=2&trained_through=3")).await.text;
    assert_document(LIFT, &text);
    assert!(text.contains("ease above 25\u{a0}%") && text.contains("ease above 40\u{a0}%"));
    assert!(text.contains("<td class=\"n\">8</td><td class=\"n\">3</td><td class=\"n\">52</td>"));
    assert!(text.contains("type=\"hidden\" name=\"trained_through\" value=\"3\""));
    assert!(text.contains("Use these costs for Ottoline Varkas"));
    let kept = post(LIFT, "cut_for_nothing=2&trained_through=3").await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER);
    assert_eq!((kept.header)("location"), format!("{LIFT}?done=costs"));
    let done = get(&format!("{LIFT}?done=costs")).await.text;
    assert!(done.contains("role=\"status\">The new costs are in force."));
    assert!(!get(&format!("{LIFT}?done=%3Cb%3E")).await.text.contains("role=\"status\""));
}

#[tokio::test]
async fn a_set_has_its_forms_and_its_history() {
    let path = format!("/lifter/Ottoline%20Varkas/set/{SET}");
    let text = get(&path).await.text;
    assert_document(&path, &text);
    for field in ["date", "time", "lift", "number", "kind", "load", "unit", "reps", "rir", "note"] {
        assert!(text.contains(&format!("<label for=\"field-{field}\">")), "{field}");
        assert!(text.contains(&format!("id=\"field-{field}\"")), "{field}");
    }
    assert!(text.contains("Correct the set") && text.contains("Withdraw the set"));
    assert!(text.contains("<option value=\"back squat\">"));
    let back = get(&format!("/lifter/Ruben%20Maplethwaite/set/{SET}")).await.text;
    assert!(back.contains("Put the set back") && !back.contains("Withdraw the set"));
    let other = get("/lifter/Ottoline%20Varkas/set/6f1ec6a3-3c0b-5f0e-9a55-000000000000").await;
    assert_eq!(other.status, StatusCode::NOT_FOUND);
    let nonsense = get("/lifter/Ottoline%20Varkas/set/squat").await;
    assert_eq!(nonsense.status, StatusCode::UNPROCESSABLE_ENTITY);
    // A lift that isn't there leads back to the lifter.
    let lost = get("/lifter/Ottoline%20Varkas/lift/yoke%20walk").await;
    assert_eq!(lost.status, StatusCode::NOT_FOUND);
    assert!(lost.text.contains("href=\"/lifter/Ottoline%20Varkas\""), "{}", lost.text);
    let sent = post(&format!("{path}/withdraw"), "reason=never+done").await;
    assert_eq!((sent.header)("location"), format!("{LIFT}?done=withdrawn"));
}
