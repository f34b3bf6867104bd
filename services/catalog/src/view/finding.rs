//! The parts of a finding that are no plain figures, as JSON.

use std::borrow::Cow;

use acoustics::units::{Db, Metres};
use domain::selection::{Assumption, Band, Failure, Finding, Notice, Uncertainty};
use domain::{Part, Sentence};
use serde::{Deserialize, Serialize};

/// A figure. JSON has no infinities, and a figure such as a headroom may be one.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(untagged)]
enum Real {
    Finite(f64),
    Other(NotFinite),
}

/// What JSON has no number for.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
enum NotFinite {
    #[serde(rename = "inf")]
    Infinite,
    #[serde(rename = "-inf")]
    NegativeInfinite,
    #[serde(rename = "nan")]
    Undefined,
}

impl From<f64> for Real {
    fn from(value: f64) -> Self {
        if value.is_finite() {
            Self::Finite(value)
        } else if value.is_nan() {
            Self::Other(NotFinite::Undefined)
        } else if value > 0.0 {
            Self::Other(NotFinite::Infinite)
        } else {
            Self::Other(NotFinite::NegativeInfinite)
        }
    }
}

impl From<Real> for f64 {
    fn from(real: Real) -> Self {
        match real {
            Real::Finite(value) => value,
            Real::Other(NotFinite::Infinite) => Self::INFINITY,
            Real::Other(NotFinite::NegativeInfinite) => Self::NEG_INFINITY,
            Real::Other(NotFinite::Undefined) => Self::NAN,
        }
    }
}

impl Real {
    fn db(self) -> Db {
        Db::new(self.into())
    }

    fn metres(self) -> Metres {
        Metres::new(self.into())
    }
}

impl From<Db> for Real {
    fn from(value: Db) -> Self {
        value.get().into()
    }
}

impl From<Metres> for Real {
    fn from(value: Metres) -> Self {
        value.get().into()
    }
}

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

/// Assumptions: field, key of the sentence, and what is put in, by name.
#[derive(Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct AssumptionsView(Vec<(Text, Text, PartsView)>);

type PartsView = Vec<(Text, PartView)>;

type Text = Cow<'static, str>;

/// Something that is put into a sentence.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum PartView {
    Figure(String),
    LengthM(Real),
    Name(String),
    Count(u64),
    Word(Text),
}

impl From<&[Assumption]> for AssumptionsView {
    fn from(list: &[Assumption]) -> Self {
        let part = |(name, part): &(Text, Part)| (name.clone(), PartView::from(part));
        let one = |Assumption { field, sentence }: &Assumption| {
            (field.clone(), sentence.key.clone(), sentence.parts.iter().map(part).collect())
        };
        Self(list.iter().map(one).collect())
    }
}

impl From<AssumptionsView> for Vec<Assumption> {
    fn from(view: AssumptionsView) -> Self {
        let part = |(name, part): (Text, PartView)| (name, part.into());
        let sentence = |key, parts: Vec<_>| Sentence { key, parts: parts.into_iter().map(part).collect() };
        view.0.into_iter().map(|(field, key, parts)| Assumption { field, sentence: sentence(key, parts) }).collect()
    }
}

impl From<&Part> for PartView {
    fn from(part: &Part) -> Self {
        match part {
            Part::Figure(text) => Self::Figure(text.clone()),
            Part::Length(length) => Self::LengthM(length.get().into()),
            Part::Name(text) => Self::Name(text.clone()),
            Part::Count(count) => Self::Count(*count),
            Part::Word(key) => Self::Word(key.clone()),
        }
    }
}

impl From<PartView> for Part {
    fn from(view: PartView) -> Self {
        match view {
            PartView::Figure(text) => Self::Figure(text),
            PartView::LengthM(length) => Self::Length(Metres::new(length.into())),
            PartView::Name(text) => Self::Name(text),
            PartView::Count(count) => Self::Count(count),
            PartView::Word(key) => Self::Word(key),
        }
    }
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum FailureView {
    LureGainBeyondMax { missing_db: Real },
    BottomGainBeyondMax { missing_db: Real },
    LureOutsideBeam { offset_m: Real, lobe_radius_m: Real },
    NoClearGain { fraction_at_zero: Real },
    NoiseBeforeLure { by_db: Real },
    LureInRingDown { range_m: Real, blind_m: Real },
}

impl From<Failure> for FailureView {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::LureGainBeyondMax { missing } => Self::LureGainBeyondMax { missing_db: missing.into() },
            Failure::BottomGainBeyondMax { missing } => Self::BottomGainBeyondMax { missing_db: missing.into() },
            Failure::LureOutsideBeam { offset, lobe_radius } => {
                Self::LureOutsideBeam { offset_m: offset.into(), lobe_radius_m: lobe_radius.into() }
            }
            Failure::NoClearGain { fraction_at_zero } => {
                Self::NoClearGain { fraction_at_zero: fraction_at_zero.into() }
            }
            Failure::NoiseBeforeLure { by } => Self::NoiseBeforeLure { by_db: by.into() },
            Failure::LureInRingDown { range, blind } => {
                Self::LureInRingDown { range_m: range.into(), blind_m: blind.into() }
            }
        }
    }
}

impl From<FailureView> for Failure {
    fn from(view: FailureView) -> Self {
        match view {
            FailureView::LureGainBeyondMax { missing_db } => Self::LureGainBeyondMax { missing: missing_db.db() },
            FailureView::BottomGainBeyondMax { missing_db } => Self::BottomGainBeyondMax { missing: missing_db.db() },
            FailureView::LureOutsideBeam { offset_m, lobe_radius_m } => {
                Self::LureOutsideBeam { offset: offset_m.metres(), lobe_radius: lobe_radius_m.metres() }
            }
            FailureView::NoClearGain { fraction_at_zero } => {
                Self::NoClearGain { fraction_at_zero: fraction_at_zero.into() }
            }
            FailureView::NoiseBeforeLure { by_db } => Self::NoiseBeforeLure { by: by_db.db() },
            FailureView::LureInRingDown { range_m, blind_m } => {
                Self::LureInRingDown { range: range_m.metres(), blind: blind_m.metres() }
            }
        }
    }
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum NoticeView {
    LureInDeadZone { shadow_m: Real, lure_m: Real },
    LureDrownsInCover { ratio_db: Real },
    LureNearLobeEdge { offset_m: Real, lobe_radius_m: Real },
    NearField { rayleigh_distance_m: Real },
    NeighboursShow { headroom_db: Real },
    NoCoverage,
}

impl From<Notice> for NoticeView {
    fn from(notice: Notice) -> Self {
        match notice {
            Notice::LureInDeadZone { shadow, lure } => {
                Self::LureInDeadZone { shadow_m: shadow.into(), lure_m: lure.into() }
            }
            Notice::LureDrownsInCover { ratio } => Self::LureDrownsInCover { ratio_db: ratio.into() },
            Notice::LureNearLobeEdge { offset, lobe_radius } => {
                Self::LureNearLobeEdge { offset_m: offset.into(), lobe_radius_m: lobe_radius.into() }
            }
            Notice::NearField { rayleigh_distance } => {
                Self::NearField { rayleigh_distance_m: rayleigh_distance.into() }
            }
            Notice::NeighboursShow { headroom } => Self::NeighboursShow { headroom_db: headroom.into() },
            Notice::NoCoverage => Self::NoCoverage,
        }
    }
}

impl From<NoticeView> for Notice {
    fn from(view: NoticeView) -> Self {
        match view {
            NoticeView::LureInDeadZone { shadow_m, lure_m } => {
                Self::LureInDeadZone { shadow: shadow_m.metres(), lure: lure_m.metres() }
            }
            NoticeView::LureDrownsInCover { ratio_db } => Self::LureDrownsInCover { ratio: ratio_db.db() },
            NoticeView::LureNearLobeEdge { offset_m, lobe_radius_m } => {
                Self::LureNearLobeEdge { offset: offset_m.metres(), lobe_radius: lobe_radius_m.metres() }
            }
            NoticeView::NearField { rayleigh_distance_m } => {
                Self::NearField { rayleigh_distance: rayleigh_distance_m.metres() }
            }
            NoticeView::NeighboursShow { headroom_db } => Self::NeighboursShow { headroom: headroom_db.db() },
            NoticeView::NoCoverage => Self::NoCoverage,
        }
    }
}

/// Low, median and high of a figure.
type BandView = [Real; 3];

#[derive(Debug, Serialize, Deserialize)]
struct UncertaintyView {
    rank_acceptability: Vec<f64>,
    score: BandView,
    coverage_radius_m: BandView,
    watch_footprint_m: BandView,
    dead_zone_height_m: BandView,
    lure_over_vegetation_db: Option<BandView>,
    headroom_db: Option<BandView>,
    working_gain_db: BandView,
    disqualified: f64,
    pareto: bool,
    dominant_uncertainty: Option<(String, f64)>,
}

fn triple(band: Band) -> BandView {
    [band.low.into(), band.median.into(), band.high.into()]
}

fn band([low, median, high]: BandView) -> Band {
    Band { low: low.into(), median: median.into(), high: high.into() }
}

impl From<&Uncertainty> for UncertaintyView {
    fn from(u: &Uncertainty) -> Self {
        Self {
            rank_acceptability: u.rank_acceptability.clone(),
            score: triple(u.score),
            coverage_radius_m: triple(u.coverage_radius_m),
            watch_footprint_m: triple(u.watch_footprint_m),
            dead_zone_height_m: triple(u.dead_zone_height_m),
            lure_over_vegetation_db: u.lure_over_vegetation_db.map(triple),
            headroom_db: u.headroom_db.map(triple),
            working_gain_db: triple(u.working_gain_db),
            disqualified: u.disqualified,
            pareto: u.pareto,
            dominant_uncertainty: u.dominant_uncertainty.clone(),
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
            dead_zone_height_m: band(v.dead_zone_height_m),
            lure_over_vegetation_db: v.lure_over_vegetation_db.map(band),
            headroom_db: v.headroom_db.map(band),
            working_gain_db: band(v.working_gain_db),
            disqualified: v.disqualified,
            pareto: v.pareto,
            dominant_uncertainty: v.dominant_uncertainty,
        }
    }
}
