//! Flags of transport security, tokens and limits.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

/// How a command shows who it is to a service, and knows that it is the right one.
#[derive(Debug, Clone, Args)]
pub(crate) struct Credentials {
    /// Certificate of the authority that signed the service's certificate (PEM); needed for https.
    #[arg(
        long,
        help_heading = "Calling a service that runs",
        global = true,
        env = "LAKEBEAM_SERVER_CA",
        value_name = "FILE"
    )]
    pub(crate) server_ca: Option<PathBuf>,
    /// Certificate of your own to show to the service (PEM), where it asks for one.
    #[arg(
        long,
        help_heading = "Calling a service that runs",
        global = true,
        env = "LAKEBEAM_CLIENT_CERTIFICATE",
        value_name = "FILE",
        requires = "client_key"
    )]
    pub(crate) client_certificate: Option<PathBuf>,
    /// Key of your own certificate (PEM).
    #[arg(
        long,
        help_heading = "Calling a service that runs",
        global = true,
        env = "LAKEBEAM_CLIENT_KEY",
        value_name = "FILE",
        requires = "client_certificate"
    )]
    pub(crate) client_key: Option<PathBuf>,
    /// File that holds your token; without it, the environment variable LAKEBEAM_TOKEN is the token. A token is no flag itself,
    /// since everybody on the machine can read the arguments of a command.
    #[arg(
        long,
        help_heading = "Calling a service that runs",
        global = true,
        env = "LAKEBEAM_TOKEN_FILE",
        value_name = "FILE"
    )]
    pub(crate) token_file: Option<PathBuf>,
}

/// Transport security of the service.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct Tls {
    /// Certificate of the service, with those between it and its authority (PEM); calls then go over https.
    #[arg(
        long,
        help_heading = "Transport security",
        env = "LAKEBEAM_TLS_CERTIFICATE",
        value_name = "FILE",
        requires = "tls_key"
    )]
    pub(crate) tls_certificate: Option<PathBuf>,
    /// Key of that certificate (PEM).
    #[arg(
        long,
        help_heading = "Transport security",
        env = "LAKEBEAM_TLS_KEY",
        value_name = "FILE",
        requires = "tls_certificate"
    )]
    pub(crate) tls_key: Option<PathBuf>,
    /// Authority of callers (PEM): whoever shows no certificate of it is not even heard.
    #[arg(
        long,
        help_heading = "Transport security",
        env = "LAKEBEAM_TLS_CLIENT_CA",
        value_name = "FILE",
        requires = "tls_certificate"
    )]
    pub(crate) tls_client_ca: Option<PathBuf>,
}

/// What the service takes.
#[derive(Debug, Clone, Args)]
pub(crate) struct Limits {
    /// Most requests at once; further ones are told to try again.
    #[arg(long, help_heading = "Limits", default_value_t = 256, value_name = "N")]
    pub(crate) max_requests: usize,
    /// Most requests of one caller at once; a stream is one until it has been taken to its end.
    #[arg(long, help_heading = "Limits", default_value_t = 64, value_name = "N")]
    pub(crate) max_requests_per_caller: usize,
    /// Most connections at once; further ones are closed.
    #[arg(long, help_heading = "Limits", default_value_t = 1_024, value_name = "N")]
    pub(crate) max_connections: usize,
    /// Most connections of one other machine at once.
    #[arg(long, help_heading = "Limits", default_value_t = 256, value_name = "N")]
    pub(crate) max_connections_per_address: usize,
    /// Largest message of a caller.
    #[arg(long, help_heading = "Limits", default_value_t = 4, value_name = "MIB")]
    pub(crate) max_message_mib: usize,
    /// Largest file of one import.
    #[arg(long, help_heading = "Limits", default_value_t = 64, value_name = "MIB")]
    pub(crate) max_upload_mib: usize,
    /// Most findings of one run (spots times options).
    #[arg(long, help_heading = "Limits", default_value_t = 2_000_000, value_name = "N")]
    pub(crate) max_findings_per_run: u64,
    /// Most runs of one caller that may wait for their turn.
    #[arg(long, help_heading = "Limits", default_value_t = 32, value_name = "N")]
    pub(crate) max_waiting_runs_per_caller: usize,
    /// How long a caller may pause in the middle of a stream before it is closed.
    #[arg(long, help_heading = "Limits", default_value_t = 60, value_name = "SECONDS", value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) max_stream_idle_seconds: u64,
}

/// Print who changed what.
#[derive(Debug, Args)]
pub(crate) struct Audit {
    /// How many of the latest writes.
    #[arg(long, default_value_t = 100, value_name = "N")]
    pub(crate) limit: u32,
}

/// Tokens.
#[derive(Debug, Args)]
#[command(
    after_help = "A token is shown once, when it is added; the database keeps only its fingerprint.\n\nExamples:\n  \
lakebeam token add till --role write > till.token\n  lakebeam token list\n  lakebeam token revoke till"
)]
pub(crate) struct Token {
    #[command(subcommand)]
    pub(crate) step: TokenStep,
}

/// What is done with tokens.
#[derive(Debug, Subcommand)]
pub(crate) enum TokenStep {
    /// Make a token and print it, once.
    Add(AddToken),
    /// List tokens: never the tokens themselves.
    List,
    /// Make a token worthless at once.
    Revoke(RevokeToken),
}

/// Make a token.
#[derive(Debug, Args)]
pub(crate) struct AddToken {
    /// Who will hold it, such as till or warden-north: the name that the audit trail gets.
    pub(crate) name: String,
    /// What it allows; each role allows what those before it do.
    #[arg(long, value_enum)]
    pub(crate) role: Role,
    /// Days after which it is worthless; never if left out.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=3650))]
    pub(crate) valid_days: Option<u32>,
}

/// Make a token worthless.
#[derive(Debug, Args)]
pub(crate) struct RevokeToken {
    /// Its name, as `token list` shows it.
    pub(crate) name: String,
}

/// What a token allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Role {
    /// Look at everything, and compute what is not stored.
    Read,
    /// Also change records, start runs, derive and render.
    Write,
    /// Also read the audit trail.
    Admin,
}
