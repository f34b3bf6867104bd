//! Transport security: what it takes to listen beyond loopback, and that each end checks the other's certificate.

use std::path::Path;

use rcgen::{BasicConstraints, CertificateParams, IsCa, Issuer, KeyPair};

use crate::support::{Server, lakebeam};
use crate::{complained, said, token};

/// An authority, its certificate in `NAME.pem`.
fn authority(dir: &Path, name: &str) -> Issuer<'static, KeyPair> {
    let key = KeyPair::generate().unwrap();
    let mut params = CertificateParams::new(Vec::<String>::new()).unwrap();
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    std::fs::write(dir.join(format!("{name}.pem")), params.self_signed(&key).unwrap().pem()).unwrap();
    Issuer::new(params, key)
}

/// A certificate for this machine in `NAME.pem`, its key in `NAME.key`.
fn certificate(dir: &Path, name: &str, issuer: &Issuer<'static, KeyPair>) {
    let key = KeyPair::generate().unwrap();
    let params = CertificateParams::new(["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
    std::fs::write(dir.join(format!("{name}.pem")), params.signed_by(&key, issuer).unwrap().pem()).unwrap();
    std::fs::write(dir.join(format!("{name}.key")), key.serialize_pem()).unwrap();
}

/// A folder with an authority `ours`, a certificate of it for the service and one for a caller, and the same of another authority.
fn folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let ours = authority(dir.path(), "ours");
    certificate(dir.path(), "service", &ours);
    certificate(dir.path(), "caller", &ours);
    let theirs = authority(dir.path(), "theirs");
    certificate(dir.path(), "stranger", &theirs);
    dir
}

const SECURE: [&str; 4] = ["--tls-certificate", "service.pem", "--tls-key", "service.key"];

#[test]
fn beyond_loopback_it_takes_a_certificate_and_a_token() {
    let dir = folder();
    let serve = ["serve", "--listen", "0.0.0.0:0"];
    let neither = complained(dir.path(), &serve, 2);
    assert!(neither.contains("--tls-certificate FILE") && neither.contains("token add"), "{neither}");
    let no_token = complained(dir.path(), &[&serve[..], &SECURE].concat(), 2);
    assert!(!no_token.contains("--tls-certificate FILE") && no_token.contains("token add"), "{no_token}");
    token(dir.path(), "till", "read");
    let no_certificate = complained(dir.path(), &serve, 2);
    assert!(
        no_certificate.contains("--tls-certificate FILE") && !no_certificate.contains("token add"),
        "{no_certificate}"
    );
    let server = Server::start_as(lakebeam(dir.path()).args(serve).args(SECURE).args(["--log", "warn"]));
    let port = server.address.rsplit(':').next().unwrap();
    let url = format!("https://localhost:{port}");
    let to = ["--server", &url, "--server-ca", "ours.pem"];
    said(dir.path(), &[&to[..], &["--token-file", "till.token", "list", "spots"]].concat());
    complained(dir.path(), &[&to[..], &["list", "spots"]].concat(), 1);
    drop(server);
    // A token that is worth nothing is none.
    said(dir.path(), &["token", "revoke", "till"]);
    complained(dir.path(), &[&serve[..], &SECURE].concat(), 2);
}

#[test]
fn each_end_checks_the_certificate_of_the_other() {
    let dir = folder();
    let server = Server::start(dir.path(), &[&SECURE[..], &["--tls-client-ca", "ours.pem"]].concat());
    let url = format!("https://{}", server.address);
    let plain = format!("http://{}", server.address);
    let list = |url: &str, flags: &[&str], code: i32| {
        complained(dir.path(), &[&["--server", url], flags, &["list", "spots"]].concat(), code)
    };
    let ours = ["--server-ca", "ours.pem", "--client-certificate", "caller.pem", "--client-key", "caller.key"];
    list(&url, &ours, 0);
    for (what, url, flags) in [
        ("no certificate of the caller", &url, &ours[..2]),
        (
            "a certificate of another authority",
            &url,
            &["--server-ca", "ours.pem", "--client-certificate", "stranger.pem", "--client-key", "stranger.key"],
        ),
        (
            "a service of another authority",
            &url,
            &["--server-ca", "theirs.pem", "--client-certificate", "caller.pem", "--client-key", "caller.key"],
        ),
        ("no encryption", &plain, &[]),
    ] {
        let refused = list(url, flags, 3);
        assert!(refused.contains("cannot be reached") || refused.contains("no service answers"), "{what}: {refused}");
    }
    let no_authority = list(&url, &[], 2);
    assert!(no_authority.contains("--server-ca"), "{no_authority}");
}

#[test]
fn a_token_never_travels_in_the_clear() {
    let dir = tempfile::tempdir().unwrap();
    token(dir.path(), "till", "read");
    // An address that is reserved for documentation (RFC 5737): nothing is sent there, the refusal comes first.
    let refused =
        complained(dir.path(), &["--server", "http://192.0.2.1:1", "--token-file", "till.token", "list", "spots"], 2);
    assert!(refused.contains("https"), "{refused}");
}

#[test]
fn files_that_are_no_certificates_are_named() {
    let dir = folder();
    std::fs::write(dir.path().join("noise.pem"), "noise").unwrap();
    let serve = ["serve", "--listen", "127.0.0.1:0"];
    for (certificate, key, named) in [
        ("noise.pem", "service.key", "noise.pem holds no certificate"),
        ("service.pem", "noise.pem", "noise.pem holds no private key"),
        ("nowhere.pem", "service.key", "nowhere.pem cannot be read"),
        ("service.pem", "caller.key", "the certificate and the key cannot be used"),
    ] {
        let flags = ["--tls-certificate", certificate, "--tls-key", key];
        let refused = complained(dir.path(), &[&serve[..], &flags].concat(), 2);
        assert!(refused.contains(named), "{certificate}, {key}: {refused}");
    }
    let half = complained(dir.path(), &[&serve[..], &["--tls-certificate", "service.pem"]].concat(), 2);
    assert!(half.contains("--tls-key"), "{half}");
}
