// What may remain of a lift after a lead set far below what was likely: lighter sets, or none. The same rules as the
// desk's (crates/engine/src/target/collapse.rs), for a phone without a signal.

/** Repetitions that each remaining set leaves by what the lead set alone has shown. */
const RESERVE = 2;
/** Two loads are one within this many kg: the desk's tolerance for plates. */
const TOLERANCE_KG = 0.01;

/** The 1RM that a lead set alone shows, as mass moved in kg; one with nothing left after one repetition is it itself. */
export function oneRmOf({ moved, reps, reserve, b }) {
  const n = reps === 1 && reserve === 0 ? 0 : reps + reserve;
  return moved * (1 + b * n);
}

/**
 * The remaining sets in the place of the `planned` ones, each `{ load, kg, reps }`; fewer where no load is light
 * enough. `lift` has `body_kg` and `rungs`, `lead` what it moved in kg, its repetitions, the reserve that was told
 * (0 if none was) and b of the lift's own curve.
 */
export function remaining(lift, lead, planned) {
  const { moved, b } = lead;
  return planned.flatMap((set) => {
    const most = Math.min(oneRmOf(lead) / (1 + b * (set.reps + RESERVE)), moved) - lift.body_kg;
    const light = lift.rungs.filter((rung) => rung.kg <= most + TOLERANCE_KG).at(-1);
    if (!light) return [];
    const { load, kg } = light.kg < set.kg ? light : set;
    return [{ load, kg, reps: set.reps }];
  });
}
