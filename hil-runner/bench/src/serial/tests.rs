//! The carrier on pairs of pseudo-terminals: bytes, bounds and every error by its name.

use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};

use super::{PortError, open_serial};
use crate::link::{Carrier, CarrierError, Link, LinkError};

const PATIENCE: Duration = Duration::from_millis(500);

/// The far end of a pseudo-terminal, and the carrier on it.
fn pair() -> (TTYPort, Box<dyn Carrier>) {
    let (far, near) = TTYPort::pair().unwrap();
    let name = near.name().unwrap();
    // It stays open on the carrier's account.
    let carrier = open_serial(&name).unwrap();
    drop(near);
    (far, carrier)
}

fn received(carrier: &mut dyn Carrier, count: usize) -> Vec<u8> {
    let deadline = Instant::now() + Duration::from_secs(5);
    let mut bytes = Vec::new();
    while bytes.len() < count && Instant::now() < deadline {
        carrier.receive(PATIENCE, &mut bytes).unwrap();
    }
    bytes
}

#[test]
fn every_byte_gets_through_both_ways_unchanged() {
    let (mut far, mut carrier) = pair();
    let all: Vec<u8> = (0..=255).collect();
    carrier.send(&all).unwrap();
    let mut bytes = vec![0; all.len()];
    far.set_timeout(Duration::from_secs(5)).unwrap();
    far.read_exact(&mut bytes).unwrap();
    assert_eq!(bytes, all);
    far.write_all(&all).unwrap();
    assert_eq!(received(carrier.as_mut(), all.len()), all);
}

#[test]
fn nothing_received_is_no_error_and_takes_the_patience() {
    let (_far, mut carrier) = pair();
    let mut bytes = Vec::new();
    let began = carrier.now();
    carrier.receive(Duration::from_millis(50), &mut bytes).unwrap();
    assert!(bytes.is_empty());
    assert!(carrier.now() - began >= Duration::from_millis(50));
}

#[test]
fn received_bytes_are_added_to_those_before() {
    let (mut far, mut carrier) = pair();
    far.write_all(&[2]).unwrap();
    let mut bytes = vec![1];
    carrier.receive(PATIENCE, &mut bytes).unwrap();
    assert_eq!(bytes, [1, 2]);
}

#[test]
fn a_port_that_is_not_there_is_named() {
    let port = "/dev/no-such-port".to_owned();
    assert_eq!(open_serial(&port).err(), Some(PortError::Missing { port }));
}

#[test]
fn a_port_in_use_is_named() {
    let (far, near) = TTYPort::pair().unwrap();
    let port = near.name().unwrap();
    let first = open_serial(&port).unwrap();
    assert_eq!(open_serial(&port).err(), Some(PortError::Busy { port: port.clone() }));
    drop(first);
    assert!(open_serial(&port).is_ok(), "free again");
    drop(far);
}

#[test]
fn a_file_is_no_port() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let port = file.path().to_str().unwrap().to_owned();
    assert_eq!(open_serial(&port).err(), Some(PortError::NotAPort { port }));
}

#[test]
fn no_permission_is_named() {
    // From the system's words: a user with all rights is refused nothing.
    let error = serialport::Error::new(serialport::ErrorKind::Io(std::io::ErrorKind::PermissionDenied), "");
    let port = "/dev/no-such-port".to_owned();
    assert_eq!(PortError::of(&port, &error), PortError::NoPermission { port, group: None });
    // And by the system itself, where it refuses anything to whoever runs this.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("port");
    std::fs::write(&path, "").unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::File::open(&path).is_err() {
        let port = path.to_str().unwrap().to_owned();
        let error = open_serial(&port).err();
        assert!(matches!(error, Some(PortError::NoPermission { group: Some(_), .. })), "{error:?}");
    }
}

#[test]
fn a_port_that_is_pulled_out_is_lost_at_once() {
    let (far, mut carrier) = pair();
    drop(far);
    let began = Instant::now();
    let Err(CarrierError::Lost(text)) = carrier.receive(Duration::from_secs(5), &mut Vec::new()) else {
        panic!("it is gone")
    };
    assert!(text.contains("/dev/pts/") && text.contains("gone"), "{text}");
    assert!(matches!(carrier.send(&[0]), Err(CarrierError::Lost(_))));
    assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
}

#[test]
fn a_far_end_that_takes_nothing_makes_the_channel_full_within_a_bounded_time() {
    let (_far, mut carrier) = pair();
    let began = Instant::now();
    let mut sent = 0;
    let error = loop {
        match carrier.send(&[0xA5; 256]) {
            Ok(()) => sent += 256,
            Err(error) => break error,
        }
        assert!(sent < 1 << 20, "there is an end to every buffer");
    };
    let CarrierError::Full { for_how_long } = error else { panic!("{error}") };
    assert!(for_how_long >= Duration::from_secs(2) && began.elapsed() < Duration::from_secs(10), "{for_how_long:?}");
}

#[test]
fn a_session_that_is_being_opened_ends_by_name_when_the_port_goes() {
    let (far, carrier) = pair();
    let reader = std::thread::spawn(move || {
        // Takes what comes, and goes away in the middle.
        let mut far = far;
        far.set_timeout(Duration::from_millis(100)).unwrap();
        let mut bytes = [0; 64];
        let began = Instant::now();
        while began.elapsed() < Duration::from_millis(700) {
            let _ = far.read(&mut bytes);
        }
    });
    let began = Instant::now();
    let Err(error) = Link::open(carrier, 1) else { panic!("no bridge answers") };
    assert!(matches!(error, LinkError::Carrier(CarrierError::Lost(_))), "{error}");
    assert!((Duration::from_millis(600)..Duration::from_secs(3)).contains(&began.elapsed()), "{:?}", began.elapsed());
    reader.join().unwrap();
}
