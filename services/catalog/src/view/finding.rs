//! The parts of a finding that are no plain figures, as JSON.

use acoustics::units::{Db, Metres};
use planning::domain::selection::{Assumption, Band, Failure, Finding, Notice, Uncertainty};
use serde::{Deserialize, Serialize};

/// Failures, notices and uncertainty.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(crate) struct DetailView {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    failures: Vec<FailureView>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    notices: Vec<NoticeView>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    uncertainty: Option<UncertaintyView>,
}

impl DetailView {
    /// The detail of a finding; none when there is nothing in it.
    pub(crate) fn of(finding: &Finding) -> Option<Self> {
        let empty = finding.failures.is_empty() && finding.notices.is_empty() && finding.uncertainty.is_none();
        (!empty).then(|| Self {
            failures: finding.failures.iter().map(|f| (*f).into()).collect(),
            notices: finding.notices.iter().map(|n| (*n).into()).collect(),
            uncertainty: finding.uncertainty.as_ref().map(UncertaintyView::from),
        })
    }

    /// Puts the detail back into a finding.
    pub(crate) fn restore(self, finding: &mut Finding) {
        finding.failures = self.failures.into_iter().map(Into::into).collect();
        finding.notices = self.notices.into_iter().map(Into::into).collect();
        finding.uncertainty = self.uncertainty.map(Into::into);
    }
}

/// Assumptions as pairs of field and sentence.
#[derive(Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct AssumptionsView(Vec<(String, String)>);

impl From<&[Assumption]> for AssumptionsView {
    fn from(list: &[Assumption]) -> Self {
        Self(list.iter().map(|a| (a.field.clone(), a.text.clone())).collect())
    }
}

impl From<AssumptionsView> for Vec<Assumption> {
    fn from(view: AssumptionsView) -> Self {
        view.0.into_iter().map(|(field, text)| Assumption { field, text }).collect()
    }
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum FailureView {
    LureGainBeyondMax { missing_db: f64 },
    BottomGainBeyondMax { missing_db: f64 },
    LureOutsideBeam { offset_m: f64, lobe_radius_m: f64 },
    NoClearGain { fraction_at_zero: f64 },
    NoiseBeforeLure { by_db: f64 },
}

impl From<Failure> for FailureView {
    fn from(f: Failure) -> Self {
        match f {
            Failure::LureGainBeyondMax { missing } => Self::LureGainBeyondMax { missing_db: missing.get() },
            Failure::BottomGainBeyondMax { missing } => Self::BottomGainBeyondMax { missing_db: missing.get() },
            Failure::LureOutsideBeam { offset, lobe_radius } => {
                Self::LureOutsideBeam { offset_m: offset.get(), lobe_radius_m: lobe_radius.get() }
            }
            Failure::NoClearGain { fraction_at_zero } => Self::NoClearGain { fraction_at_zero },
            Failure::NoiseBeforeLure { by } => Self::NoiseBeforeLure { by_db: by.get() },
        }
    }
}

impl From<FailureView> for Failure {
    fn from(v: FailureView) -> Self {
        match v {
            FailureView::LureGainBeyondMax { missing_db } => Self::LureGainBeyondMax { missing: Db::new(missing_db) },
            FailureView::BottomGainBeyondMax { missing_db } => {
                Self::BottomGainBeyondMax { missing: Db::new(missing_db) }
            }
            FailureView::LureOutsideBeam { offset_m, lobe_radius_m } => {
                Self::LureOutsideBeam { offset: Metres::new(offset_m), lobe_radius: Metres::new(lobe_radius_m) }
            }
            FailureView::NoClearGain { fraction_at_zero } => Self::NoClearGain { fraction_at_zero },
            FailureView::NoiseBeforeLure { by_db } => Self::NoiseBeforeLure { by: Db::new(by_db) },
        }
    }
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum NoticeView {
    LureInShadow { shadow_m: f64, lure_m: f64 },
    LureDrownsInCover { ratio_db: f64 },
    LureNearLobeEdge { offset_m: f64, lobe_radius_m: f64 },
    NearField { rayleigh_distance_m: f64 },
    NeighboursShow { headroom_db: f64 },
    NoCoverage,
}

impl From<Notice> for NoticeView {
    fn from(n: Notice) -> Self {
        match n {
            Notice::LureInShadow { shadow, lure } => Self::LureInShadow { shadow_m: shadow.get(), lure_m: lure.get() },
            Notice::LureDrownsInCover { ratio } => Self::LureDrownsInCover { ratio_db: ratio.get() },
            Notice::LureNearLobeEdge { offset, lobe_radius } => {
                Self::LureNearLobeEdge { offset_m: offset.get(), lobe_radius_m: lobe_radius.get() }
            }
            Notice::NearField { rayleigh_distance } => Self::NearField { rayleigh_distance_m: rayleigh_distance.get() },
            Notice::NeighboursShow { headroom } => Self::NeighboursShow { headroom_db: headroom.get() },
            Notice::NoCoverage => Self::NoCoverage,
        }
    }
}

impl From<NoticeView> for Notice {
    fn from(v: NoticeView) -> Self {
        match v {
            NoticeView::LureInShadow { shadow_m, lure_m } => {
                Self::LureInShadow { shadow: Metres::new(shadow_m), lure: Metres::new(lure_m) }
            }
            NoticeView::LureDrownsInCover { ratio_db } => Self::LureDrownsInCover { ratio: Db::new(ratio_db) },
            NoticeView::LureNearLobeEdge { offset_m, lobe_radius_m } => {
                Self::LureNearLobeEdge { offset: Metres::new(offset_m), lobe_radius: Metres::new(lobe_radius_m) }
            }
            NoticeView::NearField { rayleigh_distance_m } => {
                Self::NearField { rayleigh_distance: Metres::new(rayleigh_distance_m) }
            }
            NoticeView::NeighboursShow { headroom_db } => Self::NeighboursShow { headroom: Db::new(headroom_db) },
            NoticeView::NoCoverage => Self::NoCoverage,
        }
    }
}

/// Low, median and high of a figure.
type BandView = (f64, f64, f64);

#[derive(Debug, Serialize, Deserialize)]
struct UncertaintyView {
    rank_acceptability: Vec<f64>,
    score: BandView,
    coverage_radius_m: BandView,
    watch_footprint_m: BandView,
    shadow_height_m: BandView,
    cover_ratio_db: Option<BandView>,
    headroom_db: Option<BandView>,
    working_gain_db: BandView,
    disqualified: f64,
    pareto: bool,
    chief_unknown: Option<(String, f64)>,
}

const fn triple(b: Band) -> BandView {
    (b.low, b.median, b.high)
}
const fn band((low, median, high): BandView) -> Band {
    Band { low, median, high }
}

impl From<&Uncertainty> for UncertaintyView {
    fn from(u: &Uncertainty) -> Self {
        Self {
            rank_acceptability: u.rank_acceptability.clone(),
            score: triple(u.score),
            coverage_radius_m: triple(u.coverage_radius_m),
            watch_footprint_m: triple(u.watch_footprint_m),
            shadow_height_m: triple(u.shadow_height_m),
            cover_ratio_db: u.cover_ratio_db.map(triple),
            headroom_db: u.headroom_db.map(triple),
            working_gain_db: triple(u.working_gain_db),
            disqualified: u.disqualified,
            pareto: u.pareto,
            chief_unknown: u.chief_unknown.clone(),
        }
    }
}

impl From<UncertaintyView> for Uncertainty {
    fn from(v: UncertaintyView) -> Self {
        Self {
            rank_acceptability: v.rank_acceptability,
            score: band(v.score),
            coverage_radius_m: band(v.coverage_radius_m),
            watch_footprint_m: band(v.watch_footprint_m),
            shadow_height_m: band(v.shadow_height_m),
            cover_ratio_db: v.cover_ratio_db.map(band),
            headroom_db: v.headroom_db.map(band),
            working_gain_db: band(v.working_gain_db),
            disqualified: v.disqualified,
            pareto: v.pareto,
            chief_unknown: v.chief_unknown,
        }
    }
}
