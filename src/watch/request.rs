//! What a browser asks of the page's server, and whether it may.
//!
//! The server is for the page that it serves and for no other: any page in the same browser can send requests to 127.0.0.1, and
//! a name that someone else owns can be made to lead there. So the host asked for must be its own, and where a browser says on
//! whose behalf it asks, that must be this page or the person.

/// How a request is answered, with the words for it (RFC 9110, RFC 6585 for the one of the headers).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Status {
    pub code: u16,
    pub words: &'static str,
    /// The methods that are allowed, where it was another one (RFC 9110, 15.5.6).
    pub allow: Option<&'static str>,
}

const fn status(code: u16, words: &'static str) -> Status {
    Status {
        code,
        words,
        allow: None,
    }
}

const fn allowed(methods: &'static str) -> Status {
    Status {
        allow: Some(methods),
        ..status(405, "Method Not Allowed")
    }
}

/// Here it is.
pub(super) const OK: Status = status(200, "OK");
/// Not HTTP, or more than the server cares to read.
pub(super) const BAD: Status = status(400, "Bad Request");
/// Asked on behalf of another page.
pub(super) const FORBIDDEN: Status = status(403, "Forbidden");
/// Nothing is called so.
pub(super) const NOT_FOUND: Status = status(404, "Not Found");
/// What is asked for was made from a file that is another by now.
pub(super) const CONFLICT: Status = status(409, "Conflict");
/// A longer text than any change is.
pub(super) const TOO_MUCH: Status = status(413, "Content Too Large");
/// A change that can't be made.
pub(super) const UNFIT: Status = status(422, "Unprocessable Content");
/// This is only read.
const READ_ONLY: Status = allowed("GET, HEAD");
/// This is only asked to change something.
const CHANGED_ONLY: Status = allowed("POST");
/// Asked for under a name that is not the server's.
pub(super) const MISDIRECTED: Status = status(421, "Misdirected Request");
/// More header than any browser sends.
pub(super) const TOO_LONG: Status = status(431, "Request Header Fields Too Large");
/// Nothing was rendered yet.
pub(super) const NOT_YET: Status = status(503, "Service Unavailable");

/// A request that may be answered.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Request<'a> {
    /// What is asked for.
    pub path: &'a str,
    /// True where the head of the answer alone is wanted.
    pub head: bool,
    /// The bytes that follow the head of a change; none where nothing is to change.
    pub change: Option<usize>,
}

/// The field of a head that brings the token.
const TOKEN: &str = "pressroll-token";
/// The paths at which a change may be asked for.
const CHANGES: [&str; 2] = ["/try", "/keep"];
/// The longest text of a change, in bytes: some hundreds of settings.
pub(crate) const LONGEST_CHANGE: u64 = 64 << 10;

/// Reads the head of a request, up to and without the empty line, for a server at a port whose page has a token.
///
/// # Errors
/// How it is refused.
pub(super) fn read<'a>(head: &'a [u8], port: u16, token: &str) -> Result<Request<'a>, Status> {
    let head = std::str::from_utf8(head).map_err(|_| BAD)?;
    let mut lines = head.split("\r\n");
    let line: Vec<&str> = lines.next().unwrap_or("").split(' ').collect();
    let &[method, path, version] = line.as_slice() else {
        return Err(BAD);
    };
    if !["HTTP/1.1", "HTTP/1.0"].contains(&version) || !is_token(method) || !path.bytes().all(|byte| byte > b' ') {
        return Err(BAD);
    }
    let fields = lines.map(field).collect::<Result<Vec<_>, Status>>()?;
    let all = |name: &str| -> Vec<&str> {
        let named = fields.iter().filter(|(known, _)| known.eq_ignore_ascii_case(name));
        named.map(|(_, value)| *value).collect()
    };
    let own = |name: &str| {
        let [full, short] = [format!("127.0.0.1:{port}"), format!("localhost:{port}")];
        let bare = port == 80 && (name == "127.0.0.1" || name.eq_ignore_ascii_case("localhost"));
        bare || name == full || name.eq_ignore_ascii_case(&short)
    };
    match all("host").as_slice() {
        [host] if own(host) => {}
        [_] => return Err(MISDIRECTED),
        _ => return Err(BAD),
    }
    // Browsers say where a request comes from; other programs say nothing, and could read the person's files anyhow.
    let asks_itself = |origin: &&str| origin.strip_prefix("http://").is_some_and(own);
    let by_itself = |site: &&str| ["same-origin", "none"].contains(site);
    if !all("origin").iter().all(asks_itself) || !all("sec-fetch-site").iter().all(by_itself) {
        return Err(FORBIDDEN);
    }
    if CHANGES.contains(&path) {
        if method != "POST" {
            return Err(CHANGED_ONLY);
        }
        let proves = all(TOKEN).as_slice() == [token] && all("origin").len() == 1;
        let length = change_length(&all("content-length"), &all("transfer-encoding"))?;
        return match proves {
            true => Ok(Request {
                path,
                head: false,
                change: Some(length),
            }),
            false => Err(FORBIDDEN),
        };
    }
    if !all("transfer-encoding").is_empty() || all("content-length").iter().any(|length| *length != "0") {
        return Err(BAD);
    }
    match method {
        "GET" | "HEAD" => Ok(Request {
            path,
            head: method == "HEAD",
            change: None,
        }),
        _ => Err(READ_ONLY),
    }
}

/// How many bytes of a change follow its head.
fn change_length(lengths: &[&str], codings: &[&str]) -> Result<usize, Status> {
    let ([length], []) = (lengths, codings) else {
        return Err(BAD);
    };
    if length.is_empty() || !length.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(BAD);
    }
    match length.parse::<usize>() {
        Ok(length) if length as u64 <= LONGEST_CHANGE => Ok(length),
        _ => Err(TOO_MUCH),
    }
}

/// A field's name and value.
fn field(line: &str) -> Result<(&str, &str), Status> {
    let (name, value) = line.split_once(':').ok_or(BAD)?;
    let control = |byte: u8| byte != b'\t' && (byte < b' ' || byte == 0x7f);
    match is_token(name) && !value.bytes().any(control) {
        true => Ok((name, value.trim_matches([' ', '\t']))),
        false => Err(BAD),
    }
}

/// A token of RFC 9110.
fn is_token(word: &str) -> bool {
    let allowed = |byte: u8| byte.is_ascii_alphanumeric() || b"!#$%&'*+-.^_`|~".contains(&byte);
    !word.is_empty() && word.bytes().all(allowed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer(text: &str) -> Result<String, u16> {
        let text = text.replace('\n', "\r\n");
        let read = read(text.as_bytes(), 8042, "harbour");
        read.map(|request| request.path.to_string())
            .map_err(|status| status.code)
    }

    #[test]
    fn its_own_page_and_the_person_may_ask() {
        for host in ["127.0.0.1:8042", "localhost:8042", "LocalHost:8042"] {
            assert_eq!(answer(&format!("GET / HTTP/1.1\nHost: {host}")), Ok("/".into()));
        }
        let own = "Host: localhost:8042\nOrigin: http://localhost:8042\nSec-Fetch-Site: same-origin";
        assert_eq!(answer(&format!("GET /newest HTTP/1.1\n{own}")), Ok("/newest".into()));
        assert_eq!(
            answer("HEAD / HTTP/1.1\nhost:127.0.0.1:8042\nSec-Fetch-Site: none"),
            Ok("/".into())
        );
    }

    #[test]
    fn nobody_else_may() {
        for host in [
            "harbour.example:8042",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.2:8042",
            "[::1]:8042",
            "localhost.:8042",
            "",
        ] {
            assert_eq!(answer(&format!("GET / HTTP/1.1\nHost: {host}")), Err(421), "{host}");
        }
        let from = |field: &str| answer(&format!("GET / HTTP/1.1\nHost: 127.0.0.1:8042\n{field}"));
        for origin in [
            "null",
            "http://harbour.example",
            "https://localhost:8042",
            "http://localhost:8043",
        ] {
            assert_eq!(from(&format!("Origin: {origin}")), Err(403), "{origin}");
        }
        for site in ["cross-site", "same-site", ""] {
            assert_eq!(from(&format!("Sec-Fetch-Site: {site}")), Err(403), "{site}");
        }
        assert_eq!(from("Host: 127.0.0.1:8042"), Err(400), "two hosts");
        assert_eq!(answer("GET / HTTP/1.1\nAccept: */*"), Err(400), "no host");
    }

    #[test]
    fn what_is_no_plain_request_is_refused() {
        let host = "Host: 127.0.0.1:8042";
        for method in ["POST", "PUT", "OPTIONS", "CONNECT"] {
            assert_eq!(answer(&format!("{method} / HTTP/1.1\n{host}")), Err(405), "{method}");
        }
        for head in [
            "",
            "GET /",
            "GET / HTTP/2",
            "GET  / HTTP/1.1",
            "GET / HTTP/1.1\n folded: yes",
            "GET / HTTP/1.1\nHost : 127.0.0.1:8042",
            "GET / HTTP/1.1\nHost: 127.0.0.1:8042\nContent-Length: 4",
            "GET / HTTP/1.1\nHost: 127.0.0.1:8042\nTransfer-Encoding: chunked",
            "GET / HTTP/1.1\nHost: 127.0.0.1:8042\n\u{0}: 1",
        ] {
            assert_eq!(answer(head), Err(400), "{head:?}");
        }
    }

    #[test]
    fn a_change_needs_the_pages_own_token_and_origin() {
        let own = "Host: localhost:8042\nOrigin: http://localhost:8042\nSec-Fetch-Site: same-origin";
        let with = |more: &str| answer(&format!("POST /keep HTTP/1.1\n{own}\n{more}"));
        let token = "Pressroll-Token: harbour";
        assert_eq!(with(&format!("{token}\nContent-Length: 7")), Ok("/keep".into()));
        assert_eq!(with("Content-Length: 7"), Err(403), "no token");
        for wrong in ["Harbour", "harbou", "harbour2", ""] {
            assert_eq!(
                with(&format!("Pressroll-Token: {wrong}\nContent-Length: 7")),
                Err(403),
                "{wrong}"
            );
        }
        assert_eq!(
            with(&format!("{token}\n{token}\nContent-Length: 7")),
            Err(403),
            "two tokens"
        );
        for (length, status) in [
            ("65537", 413),
            ("99999999999999999999", 413),
            ("-1", 400),
            ("", 400),
            ("7\nContent-Length: 7", 400),
        ] {
            assert_eq!(
                with(&format!("{token}\nContent-Length: {length}")),
                Err(status),
                "{length}"
            );
        }
        assert_eq!(with(token), Err(400), "no length");
        assert_eq!(
            with(&format!("{token}\nTransfer-Encoding: chunked\nContent-Length: 7")),
            Err(400)
        );
        let nobody = format!("POST /try HTTP/1.1\nHost: localhost:8042\n{token}\nContent-Length: 7");
        assert_eq!(answer(&nobody), Err(403), "nobody says that the page asks");
        assert_eq!(
            answer(&nobody.replace("Content", "Origin: http://harbour.example\nContent")),
            Err(403)
        );
        for method in ["PUT", "PATCH", "DELETE", "GET", "HEAD"] {
            let request = format!("{method} /keep HTTP/1.1\n{own}\n{token}");
            assert_eq!(answer(&request), Err(405), "{method}");
        }
        assert_eq!(answer(&format!("POST / HTTP/1.1\n{own}\n{token}")), Err(405));
    }
}
