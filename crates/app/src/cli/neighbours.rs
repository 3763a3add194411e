//! To whom a connection inside this machine belongs, as Linux tells it in `/proc/net/tcp` (proc(5)): so that
//! the desk isn't open to other users of the machine, nor to a proxy or a tunnel that runs as one.
//!
//! Other systems don't say it without more ado; there it can't be told.

use std::fs;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

/// Whether the end at `peer` of a connection to `port` of this machine belongs to the user who runs this
/// program; none where the system doesn't say. A connection that isn't found, or whose end was closed already, is nobody's.
pub(crate) fn is_own_user(peer: SocketAddr, port: u16) -> Option<bool> {
    let own = own_user()?;
    let tables = ["/proc/net/tcp", "/proc/net/tcp6"].map(fs::read_to_string);
    if tables.iter().all(Result::is_err) {
        return None;
    }
    // A busy desk has thousands of connections: only lines with this port are read.
    let port_there = format!(":{:04X} ", peer.port());
    let lines = tables.iter().flatten().flat_map(|table| table.lines());
    let mut rows = lines.filter(|line| line.contains(&port_there)).filter_map(Row::read);
    Some(rows.any(|row| row.is(peer, port) && row.user == own))
}

#[cfg(target_os = "linux")]
fn own_user() -> Option<u32> {
    use std::os::linux::fs::MetadataExt;
    fs::metadata("/proc/self").ok().map(|own| own.st_uid())
}

#[cfg(not(target_os = "linux"))]
fn own_user() -> Option<u32> {
    None
}

/// One end of a connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Row {
    local: SocketAddr,
    remote: SocketAddr,
    user: u32,
}

impl Row {
    /// Reads a line of the table: number, local and remote address, …, user as the eighth and inode as the
    /// tenth word. An end without an inode is no process's any more, and its user says nothing.
    fn read(line: &str) -> Option<Row> {
        let words: Vec<&str> = line.split_whitespace().collect();
        let &[_, local, remote, _, _, _, _, user, _, inode, ..] = words.as_slice() else {
            return None;
        };
        let row =
            Row { local: address(local)?, remote: address(remote)?, user: user.parse().ok()? };
        (inode != "0").then_some(row)
    }

    fn is(&self, peer: SocketAddr, port: u16) -> bool {
        let local = self.local.ip().to_canonical();
        local == peer.ip().to_canonical()
            && self.local.port() == peer.port()
            && self.remote.port() == port
            && self.remote.ip().to_canonical().is_loopback()
    }
}

/// An address as the table has it: 32-bit words in the machine's own order, in hexadecimal digits.
fn address(text: &str) -> Option<SocketAddr> {
    let (ip, port) = text.split_once(':')?;
    let port = u16::from_str_radix(port, 16).ok()?;
    if !ip.is_ascii() || ip.len() % 8 != 0 {
        return None;
    }
    let words = (0..ip.len() / 8).map(|word| u32::from_str_radix(&ip[word * 8..word * 8 + 8], 16));
    let bytes: Vec<u8> = words
        .collect::<Result<Vec<u32>, _>>()
        .ok()?
        .into_iter()
        .flat_map(u32::to_ne_bytes)
        .collect();
    let ip = match bytes.len() {
        4 => IpAddr::V4(Ipv4Addr::from(<[u8; 4]>::try_from(bytes).ok()?)),
        16 => IpAddr::V6(Ipv6Addr::from(<[u8; 16]>::try_from(bytes).ok()?)),
        _ => return None,
    };
    Some(SocketAddr::new(ip, port))
}

#[cfg(test)]
mod tests {
    use super::*;

    // Lines as proc(5) describes them, on a little-endian machine.
    #[cfg(target_endian = "little")]
    #[test]
    fn rows_are_read_as_the_system_writes_them() {
        let line = "   5: 0100007F:C350 0100007F:221E 01 00000000:00000000 00:00000000 00000000  1000        0 6937 1 0 20 4 1 86 148";
        let row = Row::read(line).unwrap();
        assert_eq!(row.local, "127.0.0.1:50000".parse().unwrap());
        assert_eq!((row.remote, row.user), ("127.0.0.1:8734".parse().unwrap(), 1000));
        let peer: SocketAddr = "127.0.0.1:50000".parse().unwrap();
        assert!(row.is(peer, 8734));
        assert!(row.is("[::ffff:127.0.0.1]:50000".parse().unwrap(), 8734));
        assert!(!row.is(peer, 8735), "another port");
        assert!(!row.is("127.0.0.1:50001".parse().unwrap(), 8734), "another connection");
        assert!(!row.is("127.0.0.2:50000".parse().unwrap(), 8734), "another end");
        let six = "0: 00000000000000000000000001000000:C350 0000000000000000FFFF00000100007F:221E 01 0:0 0:0 0 7 0 99 1";
        let row = Row::read(six).unwrap();
        assert_eq!(row.local, "[::1]:50000".parse().unwrap());
        assert!(row.is("[::1]:50000".parse().unwrap(), 8734));
        // Another machine's end at the same port.
        let far = line.replace("0100007F:221E", "0101A8C0:221E");
        assert!(!Row::read(&far).unwrap().is(peer, 8734));
        // Closed already: its user would be root whoever it was.
        assert_eq!(Row::read(&line.replace("6937", "0")), None);
        for odd in [
            "",
            "sl  local_address rem_address   st tx_queue",
            "a b c d e f g h i j",
            "0: :1 :1 0 0 0 0 0 0 1",
        ] {
            assert_eq!(Row::read(odd), None, "{odd}");
        }
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_connection_of_ones_own_is_told_from_one_that_is_not_there() {
        for listen in ["127.0.0.1:0", "[::1]:0"] {
            let Ok(listener) = std::net::TcpListener::bind(listen) else { continue };
            let port = listener.local_addr().unwrap().port();
            let client = std::net::TcpStream::connect(listener.local_addr().unwrap()).unwrap();
            let peer = client.local_addr().unwrap();
            assert_eq!(is_own_user(peer, port), Some(true), "{listen}");
            assert_eq!(is_own_user(peer, port.wrapping_add(1)), Some(false));
            let (accepted, _) = listener.accept().unwrap();
            drop(client);
            assert_eq!(is_own_user(peer, port), Some(false), "nobody is there any more");
            drop(accepted);
        }
    }
}
