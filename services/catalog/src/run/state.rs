//! How far a run has come.

/// States of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunState {
    /// Stored, not begun.
    Pending,
    /// Being worked on.
    Running,
    /// All findings stored.
    Succeeded,
    /// Ended by an error.
    Failed,
    /// Ended on request.
    Cancelled,
}

impl RunState {
    pub(super) const ALL: [Self; 5] = [Self::Pending, Self::Running, Self::Succeeded, Self::Failed, Self::Cancelled];

    /// Its name, as the table of runs has it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pending => "PENDING",
            Self::Running => "RUNNING",
            Self::Succeeded => "SUCCEEDED",
            Self::Failed => "FAILED",
            Self::Cancelled => "CANCELLED",
        }
    }

    /// Whether the run has ended.
    #[must_use]
    pub const fn is_final(self) -> bool {
        matches!(self, Self::Succeeded | Self::Failed | Self::Cancelled)
    }
}
