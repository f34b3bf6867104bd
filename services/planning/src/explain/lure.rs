//! How the option sees the lure, on the axis and where it hangs.

use super::step::{Build, figure};
use super::{Subject, hundredths, tenths};
use crate::lean::lean_cost;
use crate::selection::{Case, LURE_NOTICE, LURE_RESERVE};
use domain::check::plain;
use domain::selection::ExplainStep;

const MODEL: &str = "definition of this model";

impl Subject<'_> {
    /// The evaluation's own case.
    pub(super) fn case(&self) -> Option<Case<'_>> {
        self.prepared.case(self.spot_index, self.option_index)
    }

    /// Angle between the beam's axis and the normal of the bottom, radians.
    pub(super) fn incidence(&self) -> f64 {
        let lean = self.place.lean;
        libm::hypot(self.place.slope - lean[0], lean[1])
    }

    /// The lure on and off the axis, in words, and what is left before it is lost.
    pub(super) fn lure_seen(&self) -> ExplainStep {
        let f = self.figures;
        let cost = f.lure_cost.max(0.0);
        let hangs = format!(
            "On the axis the lure shows from {} dB of gain. It hangs {} m from the axis, {}° off it, where the beam is {} dB weaker there and back.",
            tenths(f.lure_gain_on_axis),
            hundredths(f.lure_off_axis),
            tenths(f.lure_angle.to_degrees()),
            tenths(cost)
        );
        let reach = hundredths(f.lobe_radius);
        let verdict = if f.lure_off_axis > f.lobe_radius {
            format!(
                "That is more than the {} dB that a hand turns up to look for it: the lure is lost.",
                plain(LURE_RESERVE)
            )
        } else if cost > LURE_NOTICE {
            format!("That is past the edge of the beam as stated: at {reach} m the lure is lost.")
        } else {
            format!("That is well inside the beam, which reaches {reach} m there.")
        };
        let mut inputs = vec![
            figure("lure_cost_db", "", "What the lure's place costs, there and back", cost, "dB").by(
                "-2 B at the worst angle on the way out to the lure, and the longer way there",
                self.pattern_source(),
            ),
            figure("lure_reserve_db", "", "What it may cost", LURE_RESERVE, "dB").by("", MODEL),
            figure("lobe_radius_m", "", "How far from the axis the lure may hang", f.lobe_radius, "m")
                .by("the distance at the lure's depth at which its place costs the reserve", MODEL),
        ];
        inputs.extend(self.lean_cost());
        figure("reserve", "ρ", "What the nearness of a failure leaves of the score", f.reserve, "")
            .by(
                "1 down to 0.01, evenly in the logarithm, as the lure's place costs 6 to 15 dB; times what is left of the last 3 dB of dial, noise and neighbours",
                MODEL,
            )
            .says(format!("{hangs} {verdict}"))
            .from(inputs)
    }

    /// What a lean away from the lure costs here.
    fn lean_cost(&self) -> Option<ExplainStep> {
        let leaning = lean_cost(self.prepared, self.spot_index, self.option_index).ok()?;
        let more = leaning.more.get();
        let lost = if leaning.lost { " The lure is then outside the beam." } else { "" };
        Some(
            figure("lean_cost_db", "", "What a lean of 5° more, away from the lure, costs", more, "dB")
                .by("working gain with the lean, less working gain", MODEL)
                .says(format!(
                    "Leaning 5° against the far wall of the hole, the transducer needs {} dB more gain. The bottom then hides {} m, and the score is {}.{lost}",
                    tenths(more),
                    hundredths(leaning.hidden.get()),
                    hundredths(leaning.scores[1])
                )),
        )
    }
}
