//! How the option sees the lure, on the axis and where it hangs.

use super::step::{Build, figure};
use super::{Subject, decibels, hundredths, length, metric, tenths};
use crate::lean::lean_cost;
use crate::selection::{Case, LURE_NOTICE, LURE_RESERVE};
use domain::check::plain;
use domain::selection::{ExplainStep, Origin};
use domain::{Part, Sentence};

const MODEL: Origin = Origin::Said("from-model");

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
        let there = (-2.0 * f.lure_beam).max(0.0);
        let hangs = Sentence::new(
            "behind-lure-hangs",
            [
                ("offset", metric(f.lure_off_axis)),
                ("angle", Part::Figure(format!("{}°", tenths(f.lure_angle.to_degrees())))),
                ("cost", decibels(there)),
            ],
        );
        // A gap between lobes on the way out to it, which a swinging lure meets.
        let gap = (cost > there + 1.0).then(|| Sentence::new("behind-lure-gap", [("cost", decibels(cost))]));
        let verdict = if f.lure_off_axis > f.lobe_radius {
            Sentence::new("behind-lure-lost", [("reserve", Part::Figure(format!("{} dB", plain(LURE_RESERVE))))])
        } else if cost > LURE_NOTICE {
            length("behind-lure-edge", "reach", f.lobe_radius)
        } else {
            length("behind-lure-inside", "reach", f.lobe_radius)
        };
        let mut inputs = vec![
            figure("lure_cost_db", "", "figure-what-the-lure-s-place-costs-there-and-back", cost, "dB").by(
                "-2 B at the worst angle on the way out to the lure, and the longer way there",
                self.pattern_source(),
            ),
            figure("lure_reserve_db", "", "figure-what-it-may-cost", LURE_RESERVE, "dB").by("", MODEL),
            figure("lobe_radius_m", "", "figure-how-far-from-the-axis-the-lure-may-hang", f.lobe_radius, "m")
                .by("the distance at the lure's depth at which its place costs the reserve", MODEL),
        ];
        inputs.extend(self.lean_cost());
        figure("reserve", "ρ", "figure-what-the-nearness-of-a-failure-leaves-of-the-score", f.reserve, "")
            .by(
                "1 down to 0.01, evenly in the logarithm, as the lure's place costs 6 to 15 dB; times what is left of the last 3 dB of dial, noise and neighbours",
                MODEL,
            )
            .says(Sentence::new("behind-lure-axis", [("gain", decibels(f.lure_gain_on_axis))]))
            .says(hangs)
            .says(gap)
            .says(verdict)
            .from(inputs)
    }

    /// What a lean away from the lure costs here.
    fn lean_cost(&self) -> Option<ExplainStep> {
        let leaning = lean_cost(self.prepared, self.spot_index, self.option_index).ok()?;
        let more = leaning.more.get();
        Some(
            figure("lean_cost_db", "", "figure-what-a-lean-of-5-more-away-from-the-lure-costs", more, "dB")
                .by("working gain with the lean, less working gain", MODEL)
                .says(Sentence::new("behind-lean", [("more", decibels(more))]))
                .says(Sentence::new(
                    "behind-lean-score",
                    [("height", metric(leaning.hidden.get())), ("score", Part::Figure(hundredths(leaning.scores[1])))],
                ))
                .says(leaning.lost.then(|| Sentence::plain("behind-lean-lost"))),
        )
    }
}
