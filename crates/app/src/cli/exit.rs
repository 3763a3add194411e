//! Exit codes, and what a command says when it can't do what was asked.

use std::path::Path;
use std::process::ExitCode;

use service::backup::BackupError;
use service::export::{ExportError, RestoreError};
use service::forms::FormError;
use service::import::ImportError;
use service::population::pool::PoolError;
use service::programme::ProgrammeError;
use service::{ServiceError, StoreError};

/// How a command ended. The numbers are documented and stay as they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Exit {
    /// Done.
    Done,
    /// Something in the input was refused; the rest is done.
    SomeRefused,
    /// A command, an option or its value makes no sense.
    WrongUse,
    /// Nothing was done because of the data.
    NothingDone,
    /// The store has trouble.
    Store,
    /// A file or an address can't be used.
    Files,
}

impl Exit {
    pub(crate) fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::SomeRefused => 1,
            Exit::WrongUse => 2,
            Exit::NothingDone => 3,
            Exit::Store => 4,
            Exit::Files => 5,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit.code())
    }
}

/// Why a command did nothing.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    #[error("{0}")]
    WrongUse(String),
    #[error("{0}")]
    Data(String),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("{0}")]
    StoreBusy(String),
    #[error("{0}")]
    Files(String),
}

impl Failure {
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Failure::WrongUse(_) => Exit::WrongUse,
            Failure::Data(_) => Exit::NothingDone,
            Failure::Store(_) | Failure::StoreBusy(_) => Exit::Store,
            Failure::Files(_) => Exit::Files,
        }
    }

    /// A file that can't be opened or read.
    pub(crate) fn cannot_read(path: &Path, reason: &std::io::Error) -> Failure {
        Failure::Files(match reason.kind() {
            std::io::ErrorKind::NotFound => {
                format!("there is no file `{}`: check the path", path.display())
            }
            std::io::ErrorKind::IsADirectory => {
                format!("`{}` is a folder: name the files in it", path.display())
            }
            _ => format!("can't read `{}`: {reason}", path.display()),
        })
    }

    /// A file that can't be written.
    pub(crate) fn cannot_write(path: &Path, reason: &std::io::Error) -> Failure {
        Failure::Files(match reason.kind() {
            std::io::ErrorKind::NotFound => {
                format!("can't write `{}`: there is no such folder", path.display())
            }
            std::io::ErrorKind::StorageFull => {
                format!("can't write `{}`: no room is left on that disk", path.display())
            }
            _ => format!("can't write `{}`: {reason}", path.display()),
        })
    }

    /// Says on standard error what went wrong; with `json` as an object.
    pub(crate) fn print(&self, json: bool) -> Exit {
        let exit = self.exit();
        if json {
            eprintln!("{}", serde_json::json!({ "error": self.to_string(), "exit": exit.code() }));
        } else {
            eprintln!("bellwether: {self}");
        }
        exit
    }

    /// The failure with the name of the file that it is about in front, unless it names one.
    pub(crate) fn about(self, path: &Path) -> Failure {
        let with_path = |text: String| format!("`{}`: {text}", path.display());
        match self {
            Failure::Data(text) => Failure::Data(with_path(text)),
            Failure::WrongUse(text) => Failure::WrongUse(with_path(text)),
            names_it @ (Failure::Store(_) | Failure::StoreBusy(_) | Failure::Files(_)) => names_it,
        }
    }
}

impl From<ServiceError> for Failure {
    fn from(error: ServiceError) -> Failure {
        match error {
            ServiceError::Store(error) => Failure::Store(error),
            error @ ServiceError::Refused(_) => Failure::WrongUse(error.to_string()),
            error @ (ServiceError::LiftFile(_)
            | ServiceError::NoSuchLifter { .. }
            | ServiceError::NoSuchLift { .. }
            | ServiceError::NoSession { .. }
            | ServiceError::NoProgramme { .. }
            | ServiceError::PlanChange { .. }
            | ServiceError::Programme { .. }
            | ServiceError::NoSuchLink { .. }
            | ServiceError::Floor { .. }
            | ServiceError::Pooled(_)) => Failure::Data(error.to_string()),
        }
    }
}

impl From<FormError> for Failure {
    fn from(error: FormError) -> Failure {
        match error {
            FormError::Service(error) => error.into(),
            FormError::Problems(problems) => {
                let reasons: Vec<&str> = problems.iter().map(|(_, reason)| reason).collect();
                Failure::WrongUse(reasons.join("; "))
            }
        }
    }
}

impl From<ImportError> for Failure {
    fn from(error: ImportError) -> Failure {
        match error {
            ImportError::Store(error) => Failure::Store(error),
            error @ (ImportError::Read { .. } | ImportError::Rejects(_)) => {
                Failure::Files(error.to_string())
            }
            error @ (ImportError::NoSuchColumn { .. }
            | ImportError::TwoSources { .. }
            | ImportError::WrongField { .. }
            | ImportError::BadChoice { .. }
            | ImportError::Refused(_)
            | ImportError::BadValue { .. }) => Failure::WrongUse(error.to_string()),
            error @ (ImportError::Empty
            | ImportError::NotATable { .. }
            | ImportError::MissingColumns { .. }
            | ImportError::SameHeaderTwice { .. }
            | ImportError::Asked(_)
            | ImportError::LiftFile(_)) => Failure::Data(error.to_string()),
        }
    }
}

impl From<PoolError> for Failure {
    fn from(error: PoolError) -> Failure {
        match error {
            PoolError::Service(error) => error.into(),
            error @ (PoolError::NoEstimates { .. }
            | PoolError::Pooling(_)
            | PoolError::Growth(_)
            | PoolError::OutOfRange(_)
            | PoolError::NotSound { .. }) => Failure::Data(error.to_string()),
        }
    }
}

impl From<ProgrammeError> for Failure {
    fn from(error: ProgrammeError) -> Failure {
        match error {
            ProgrammeError::Service(error) => error.into(),
            error @ ProgrammeError::NoSuchWeek { .. } => Failure::WrongUse(error.to_string()),
            error @ (ProgrammeError::File(_)
            | ProgrammeError::UnknownLifts(_)
            | ProgrammeError::NothingToMend(_)
            | ProgrammeError::NotSound(_)) => Failure::Data(error.to_string()),
        }
    }
}

impl From<ExportError> for Failure {
    fn from(error: ExportError) -> Failure {
        match error {
            ExportError::Store(error) => Failure::Store(error),
            error @ ExportError::Busy => Failure::StoreBusy(error.to_string()),
            error @ (ExportError::AlreadyThere { .. }
            | ExportError::NotAFolder { .. }
            | ExportError::DiskFull { .. }
            | ExportError::ReadOnly { .. }
            | ExportError::Io { .. }) => Failure::Files(error.to_string()),
        }
    }
}

impl From<BackupError> for Failure {
    fn from(error: BackupError) -> Failure {
        match error {
            BackupError::Store(error) => Failure::Store(error),
            error @ BackupError::TheStore { .. } => Failure::WrongUse(error.to_string()),
            error @ (BackupError::InUse { .. } | BackupError::NotWhole { .. }) => {
                Failure::StoreBusy(error.to_string())
            }
            error @ (BackupError::AlreadyThere { .. }
            | BackupError::AnotherFile { .. }
            | BackupError::NoFolder { .. }
            | BackupError::DiskFull { .. }
            | BackupError::ReadOnly { .. }
            | BackupError::Io { .. }
            | BackupError::Differs { .. }
            | BackupError::Ended) => Failure::Files(error.to_string()),
        }
    }
}

impl From<RestoreError> for Failure {
    fn from(error: RestoreError) -> Failure {
        match error {
            RestoreError::Store(error) => Failure::Store(error),
            error @ RestoreError::Read { .. } => Failure::Files(error.to_string()),
            error @ (RestoreError::Line { .. }
            | RestoreError::NotAnExport
            | RestoreError::NewerVersion { .. }
            | RestoreError::CutOff { .. }
            | RestoreError::WrongNumber { .. }
            | RestoreError::Fact { .. }) => Failure::Data(error.to_string()),
        }
    }
}
