//! The pictures of `docs/model.md`, drawn from records made up for them, through the engine.
//!
//! `cargo run --release -p service --example model_figures` writes them to `docs/pictures`. Nothing is
//! random, and no parameter is estimated: the model has the values that come with the program. The
//! lifters are invented.

use std::fmt::Write as _;
use std::path::Path;

use domain::{Catalogue, Lift, LiftName, Muscle};
use engine::recovery::{Freak, Lifter, Pooled, Shape};
use engine::strength::Reserve;
use engine::trend::{Expectation, LeadSet};

const PAPER: &str = "#fdfcf8";
const INK: &str = "#23241f";
const FORECAST: &str = "#1f5673";
const EASED: &str = "#7a2f58";
const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 330.0;

/// δ.
const SHORTFALL: f64 = 0.02;
/// Repetitions that lead sets of the records end at, and their reserve.
const REPS: u16 = 6;
const RESERVE: f64 = 2.0;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/pictures");
    for (name, picture) in [
        ("model-muscle.svg", muscle()?),
        ("model-session.svg", session()?),
        ("model-freak.svg", freak()?),
        ("model-shortfall.svg", shortfall()?),
    ] {
        std::fs::write(folder.join(name), picture)?;
        println!("docs/pictures/{name}");
    }
    Ok(())
}

/// A lift of the built-in catalogue.
fn named(name: &str) -> Result<Lift, Box<dyn std::error::Error>> {
    let found = Catalogue::built_in().find(&LiftName::new(name)?).cloned();
    found.ok_or_else(|| format!("the catalogue has no `{name}`").into())
}

fn set(days: f64, moved_kg: f64, reps: u16) -> LeadSet {
    LeadSet { days, moved_kg, reps, reserve: Reserve::Reported(RESERVE) }
}

/// A lifter who for `weeks` did these lifts on Mondays and Thursdays at noon, each with a lead set of six
/// repetitions (now and then one more or less), two in reserve, and three hard sets.
fn regular(lifts: &[Lift], loads_kg: &[f64], weeks: u16, pooled: Pooled) -> Lifter {
    let mut lifter = Lifter::new(Shape::of(lifts), pooled);
    for session in 0..2 * weeks {
        let days = f64::from(session / 2 * 7 + session % 2 * 3) + 0.5;
        for (lift, kg) in loads_kg.iter().enumerate() {
            let reps = match (usize::from(session) * 3 + lift) % 7 {
                1 => REPS - 1,
                4 => REPS + 1,
                _ => REPS,
            };
            lifter.lead(lift, set(days, *kg, reps));
            lifter.work(lift, days, 3.0);
        }
    }
    lifter
}

/// (a) A muscle after a session, with its band fading to usual.
fn muscle() -> Result<String, Box<dyn std::error::Error>> {
    let mut lifter = regular(&[named("back squat")?], &[130.0], 12, Pooled::shipped());
    let days = 84.5;
    lifter.lead(0, set(days, 130.0, REPS));
    lifter.work(0, days, 5.0);
    let hours: Vec<f64> = (0..=48).map(|step| 3.0 * f64::from(step)).collect();
    let ahead = lifter.muscles_ahead(days, SHORTFALL, &hours);
    let of = |states: &[engine::recovery::MuscleState]| {
        states.iter().find(|one| one.muscle == Muscle::Quadriceps).copied()
    };
    let states: Vec<_> = ahead.iter().filter_map(|states| of(states)).collect();
    let back = of(&lifter.muscles(days, SHORTFALL)).and_then(|one| one.hours_until_usual);

    let title = "The quadriceps after five hard sets of squats, untrained since";
    let plot = Plot::new((0.0, 144.0), (8.0, -4.0));
    let mut svg = plot.open(title);
    plot.axes(
        &mut svg,
        &(0..=6).map(|day| (24.0 * f64::from(day), format!("{}", 24 * day))).collect::<Vec<_>>(),
        "hours after the session",
        &[-4.0, -2.0, 0.0, 2.0, 4.0, 6.0, 8.0].map(|pct| {
            (
                pct,
                if pct == 0.0 {
                    "usual".to_owned()
                } else {
                    format!("{pct:+.0} %").replace('-', "−")
                },
            )
        }),
        "under usual (+), above (−)",
    );
    let low: Vec<_> = hours.iter().zip(&states).map(|(h, s)| (*h, s.shortfall_pct.0)).collect();
    let middle: Vec<_> = hours.iter().zip(&states).map(|(h, s)| (*h, s.shortfall_pct.1)).collect();
    let high: Vec<_> = hours.iter().zip(&states).map(|(h, s)| (*h, s.shortfall_pct.2)).collect();
    plot.band(&mut svg, &low, &high, FORECAST);
    plot.line(&mut svg, &middle, FORECAST, "");
    plot.line(&mut svg, &[(0.0, 0.0), (144.0, 0.0)], INK, "2 4");
    plot.line(&mut svg, &[(0.0, 2.0), (144.0, 2.0)], EASED, "6 4");
    plot.note(&mut svg, (142.0, 2.9), "end", EASED, "δ: 2 % under usual");
    plot.note(&mut svg, (30.0, 1.0), "end", FORECAST, "middle");
    plot.note(&mut svg, (56.0, -2.7), "start", FORECAST, "eight chances in ten");
    if let Some(back) = back {
        plot.line(&mut svg, &[(back, 8.0), (back, 2.0)], INK, "");
        let words = format!("after {back:.0} h within δ with 80 %");
        plot.note(&mut svg, (back + 2.0, 6.9), "start", INK, &words);
    }
    Ok(close(svg))
}

/// (b) A squat that falls short moves the forecast of a leg press, and hardly that of a chin-up.
fn session() -> Result<String, Box<dyn std::error::Error>> {
    let lifts = [named("back squat")?, named("leg press")?, named("chin-up")?];
    let loads = [130.0, 220.0, 92.5];
    let before = regular(&lifts, &loads, 12, Pooled::shipped());
    let days = 84.5;
    let squat = |reps: u16| {
        let mut lifter = before.clone();
        lifter.lead(0, set(days, loads[0], reps));
        lifter.work(0, days, 3.0);
        lifter
    };
    let title = "What is expected of later lifts, two repetitions in reserve";
    let plot = Plot::new((2.0, 10.0), (5.0, 0.0)).with_left(210.0);
    let mut svg = plot.open(title);
    let ticks: Vec<_> = (2..=10).map(|reps| (f64::from(reps), format!("{reps}"))).collect();
    plot.axes(&mut svg, &ticks, "repetitions of the lead set, eight chances in ten", &[], "");
    let rows = [
        (0.8, 1, REPS, "Leg press, squat as likely: 6"),
        (1.7, 1, REPS - 2, "Leg press, squat short: 4"),
        (3.3, 2, REPS, "Chin-up, squat as likely: 6"),
        (4.2, 2, REPS - 2, "Chin-up, squat short: 4"),
    ];
    for (at, lift, reps, words) in rows {
        let expected = squat(reps).expect(lift, &set(days, loads[lift], REPS));
        let expected = expected.ok_or("the record has no lead set of this lift")?;
        let (low, likely, high) = expected.reps_interval();
        let (colour, dash) = if reps == REPS { (FORECAST, "") } else { (EASED, "7 4") };
        plot.line(&mut svg, &[(low, at), (high, at)], colour, dash);
        plot.mark(&mut svg, (likely, at), colour, reps == REPS);
        plot.note(&mut svg, (likely, at - 0.17), "middle", colour, &format!("{likely:.1}"));
        plot.beside(&mut svg, at, words);
    }
    Ok(close(svg))
}

/// (c) What a freak set does to what is expected next, with one scale of noise and with two.
fn freak() -> Result<String, Box<dyn std::error::Error>> {
    const FREAK_AT: u16 = 11;
    let two = Pooled::shipped();
    let one = Pooled { freak: Freak::NONE, ..two.clone() };
    let lift = named("back squat")?;
    // For each lead set: its day, what it showed, and what was expected; 1RM in kg.
    let follow = |pooled: Pooled| {
        let mut lifter = Lifter::new(Shape::of([&lift]), pooled);
        let mut points = Vec::new();
        for session in 0..20_u16 {
            let days = 3.5 * f64::from(session);
            let reps = match session {
                FREAK_AT => 1,
                _ if session % 5 == 2 => REPS + 1,
                _ if session % 5 == 4 => REPS - 1,
                _ => REPS,
            };
            let lead = set(days, 130.0, reps);
            let shown = lifter.shown_by(&lead).map_or(f64::NAN, f64::exp);
            let expected = lifter.expect(0, &lead).map(|expected| expected.mean.exp());
            lifter.lead(0, lead);
            lifter.work(0, days, 3.0);
            points.push((days, shown, expected));
        }
        points
    };
    let (with_one, with_two) = (follow(one), follow(two));
    let title = "One set ends after one repetition, and what is expected of the next ones";
    let plot = Plot::new((0.0, 70.0), (138.0, 174.0));
    let mut svg = plot.open(title);
    plot.axes(
        &mut svg,
        &(0..=10).map(|week| (7.0 * f64::from(week), format!("{week}"))).collect::<Vec<_>>(),
        "weeks",
        &[140.0, 150.0, 160.0, 170.0].map(|kg| (kg, format!("{kg:.0} kg"))),
        "1RM",
    );
    for (days, shown, _) in &with_two {
        plot.mark(&mut svg, (*days, *shown), INK, false);
    }
    let line = |points: &[(f64, f64, Option<f64>)]| {
        points.iter().filter_map(|p| Some((p.0, p.2?))).collect::<Vec<_>>()
    };
    plot.line(&mut svg, &line(&with_one), EASED, "7 4");
    plot.line(&mut svg, &line(&with_two), FORECAST, "");
    let day = 3.5 * f64::from(FREAK_AT);
    plot.note(&mut svg, (day + 1.5, 142.4), "start", INK, "the freak set");
    let at = usize::from(FREAK_AT);
    let fall = |points: &[(f64, f64, Option<f64>)]| {
        let (before, after) = points[at].2.zip(points[at + 1].2)?;
        Some(format!("{:.1} %", 100.0 * (before / after).ln()))
    };
    let (two, one) = fall(&with_two).zip(fall(&with_one)).ok_or("nothing was expected")?;
    let words = format!("two scales: the next set is expected {two} lower");
    plot.note(&mut svg, (1.0, 152.5), "start", FORECAST, &words);
    let words = format!("one scale (dashed): {one} lower");
    plot.note(&mut svg, (1.0, 149.3), "start", EASED, &words);
    plot.note(&mut svg, (1.0, 171.8), "start", INK, "○ what each lead set showed");
    Ok(close(svg))
}

/// (d) P(shortfall) against repetitions for three scatters.
fn shortfall() -> Result<String, Box<dyn std::error::Error>> {
    let title = "How probable a shortfall of more than 2 % is, after a lead set";
    let plot = Plot::new((1.0, 10.0), (0.0, 0.8)).with_right(170.0);
    let mut svg = plot.open(title);
    let ticks: Vec<_> = (1..=10).map(|reps| (f64::from(reps), format!("{reps}"))).collect();
    let percents: Vec<_> =
        (0..=4).map(|fifth| (0.2 * f64::from(fifth), format!("{} %", 20 * fifth))).collect();
    plot.axes(&mut svg, &ticks, "repetitions done, two in reserve", &percents, "P(shortfall)");
    plot.line(&mut svg, &[(1.0, 0.25), (10.0, 0.25)], INK, "2 4");
    plot.note(&mut svg, (9.9, 0.27), "end", INK, "ease above this");
    let days = 84.5;
    for (class_pct, colour, dash, filled) in
        [(1.5, FORECAST, "", true), (3.0, INK, "2 3", false), (6.0, EASED, "7 4", true)]
    {
        let lift = Lift { starting_scatter_pct: class_pct, ..named("back squat")? };
        let lifter = regular(&[lift], &[130.0], 12, Pooled::shipped());
        let mut points = Vec::new();
        let mut likely = 0.0;
        for reps in 1..=10_u16 {
            let lead = set(days, 130.0, reps);
            let expected: Expectation = lifter.expect(0, &lead).ok_or("an empty record")?;
            let shown = lifter.shown_by(&lead).ok_or("too long a set")?;
            likely = expected.reps_interval().1;
            points.push((f64::from(reps), expected.p_shortfall_in_step(shown, SHORTFALL)));
        }
        plot.line(&mut svg, &points, colour, dash);
        points.iter().for_each(|point| plot.mark(&mut svg, *point, colour, filled));
        let own_pct = 100.0 * lifter.parameters().scatter[0].exp_m1();
        let words = format!("σ {own_pct:.1} %, {likely:.1} likely");
        plot.key(&mut svg, class_pct, colour, dash, filled, &words);
    }
    Ok(close(svg))
}

/// A frame with two straight scales. The vertical one runs from its first value at the bottom (or, where
/// the first is larger, at the top) to its last.
struct Plot {
    x: (f64, f64),
    y: (f64, f64),
    left: f64,
    right: f64,
}

impl Plot {
    const TOP: f64 = 44.0;
    const BOTTOM: f64 = HEIGHT - 48.0;

    fn new(x: (f64, f64), y: (f64, f64)) -> Plot {
        Plot { x, y, left: 74.0, right: WIDTH - 18.0 }
    }

    fn with_left(self, left: f64) -> Plot {
        Plot { left, ..self }
    }

    fn with_right(self, room: f64) -> Plot {
        Plot { right: WIDTH - room, ..self }
    }

    fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let share = |value: f64, (from, to): (f64, f64)| (value - from) / (to - from);
        let across = self.left + share(x, self.x).clamp(0.0, 1.0) * (self.right - self.left);
        let up = share(y, self.y).clamp(0.0, 1.0) * (Plot::BOTTOM - Plot::TOP);
        (tenth(across), tenth(Plot::BOTTOM - up))
    }

    fn open(&self, title: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
             aria-label=\"{title}\" font-family=\"Georgia, 'DejaVu Serif', serif\" font-size=\"13\" \
             color=\"{INK}\">\n<title>{title}</title>\n<rect width=\"{WIDTH}\" height=\"{HEIGHT}\" \
             fill=\"{PAPER}\"/>\n<text x=\"18\" y=\"25\" font-size=\"15\" fill=\"currentColor\">{title}\
             </text>\n"
        )
    }

    fn axes(
        &self,
        svg: &mut String,
        across: &[(f64, String)],
        across_words: &str,
        up: &[(f64, String)],
        up_words: &str,
    ) {
        let (left, right, bottom) = (self.left, self.right, Plot::BOTTOM);
        for (value, label) in across {
            let (x, _) = self.at((*value, self.y.0));
            let (tick, text) = (bottom + 5.0, bottom + 19.0);
            put(
                svg,
                &format!(
                    "<path d=\"M{x} {bottom}V{tick}\" stroke=\"currentColor\"/><text x=\"{x}\" y=\"{text}\" \
                 text-anchor=\"middle\" fill=\"currentColor\">{label}</text>"
                ),
            );
        }
        for (value, label) in up {
            let (_, y) = self.at((self.x.0, *value));
            let (text_x, text_y) = (left - 8.0, y + 4.0);
            put(
                svg,
                &format!(
                    "<path d=\"M{left} {y}H{right}\" stroke=\"currentColor\" stroke-opacity=\"0.12\"/>\
                 <text x=\"{text_x}\" y=\"{text_y}\" text-anchor=\"end\" fill=\"currentColor\">{label}\
                 </text>"
                ),
            );
        }
        let (middle, words_y) = (0.5 * (left + right), bottom + 38.0);
        put(
            svg,
            &format!(
                "<path d=\"M{left} {bottom}H{right}\" stroke=\"currentColor\"/><text x=\"{middle}\" \
             y=\"{words_y}\" text-anchor=\"middle\" fill=\"currentColor\">{across_words}</text>"
            ),
        );
        if !up_words.is_empty() {
            let (x, y) = (18.0, 0.5 * (Plot::TOP + bottom));
            put(
                svg,
                &format!(
                    "<text x=\"{x}\" y=\"{y}\" text-anchor=\"middle\" fill=\"currentColor\" \
                 transform=\"rotate(-90 {x} {y})\">{up_words}</text>"
                ),
            );
        }
    }

    fn line(&self, svg: &mut String, points: &[(f64, f64)], colour: &str, dash: &str) {
        let path = self.path(points, 'M');
        put(
            svg,
            &format!(
                "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\" \
             stroke-dasharray=\"{}\"/>",
                if dash.is_empty() { "none" } else { dash }
            ),
        );
    }

    fn band(&self, svg: &mut String, low: &[(f64, f64)], high: &[(f64, f64)], colour: &str) {
        let back: Vec<_> = high.iter().rev().copied().collect();
        let path = format!("{}{}Z", self.path(low, 'M'), self.path(&back, 'L'));
        put(svg, &format!("<path d=\"{path}\" fill=\"{colour}\" fill-opacity=\"0.16\"/>"));
    }

    fn path(&self, points: &[(f64, f64)], first: char) -> String {
        let mut path = String::new();
        for (idx, point) in points.iter().enumerate() {
            let (x, y) = self.at(*point);
            let letter = if idx == 0 { first } else { 'L' };
            // Writing to a string can't fail.
            let _ = write!(path, "{letter}{x} {y}");
        }
        path
    }

    fn mark(&self, svg: &mut String, point: (f64, f64), colour: &str, filled: bool) {
        let (x, y) = self.at(point);
        dot(svg, x, y, colour, filled);
    }

    fn note(&self, svg: &mut String, point: (f64, f64), anchor: &str, colour: &str, words: &str) {
        let (x, y) = self.at(point);
        put(
            svg,
            &format!(
                "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" fill=\"{colour}\">{words}</text>"
            ),
        );
    }

    /// Words to the left of the frame.
    fn beside(&self, svg: &mut String, at: f64, words: &str) {
        let (x, y) = (self.left - 12.0, self.at((self.x.0, at)).1 + 4.0);
        put(
            svg,
            &format!(
                "<text x=\"{x}\" y=\"{y}\" text-anchor=\"end\" fill=\"currentColor\">{words}</text>"
            ),
        );
    }

    /// One line of the key to the right of the frame; larger `order`s come lower.
    fn key(
        &self,
        svg: &mut String,
        order: f64,
        colour: &str,
        dash: &str,
        filled: bool,
        words: &str,
    ) {
        let (x, y) = (self.right + 14.0, Plot::TOP + 20.0 + 26.0 * (order / 1.5).log2());
        let (to, middle, text_x, text_y) = (x + 26.0, x + 13.0, x + 32.0, y + 4.0);
        let dash = if dash.is_empty() { "none" } else { dash };
        put(
            svg,
            &format!(
                "<path d=\"M{x} {y}H{to}\" stroke=\"{colour}\" stroke-width=\"2\" \
             stroke-dasharray=\"{dash}\"/><text x=\"{text_x}\" y=\"{text_y}\" fill=\"{colour}\" \
             font-size=\"12\">{words}</text>"
            ),
        );
        dot(svg, middle, y, colour, filled);
    }
}

fn dot(svg: &mut String, x: f64, y: f64, colour: &str, filled: bool) {
    let fill = if filled { colour } else { PAPER };
    put(
        svg,
        &format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"4\" fill=\"{fill}\" stroke=\"{colour}\" stroke-width=\"1.5\"/>"
        ),
    );
}

fn put(svg: &mut String, element: &str) {
    svg.push_str(element);
    svg.push('\n');
}

fn close(mut svg: String) -> String {
    svg.push_str("</svg>\n");
    svg
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
