//! The listening page on 127.0.0.1, with the newest render.
//!
//! A small server of HTTP/1.1 for one page: it reads heads of bounded size within a bounded time, answers each request and closes
//! the connection, and serves what it was handed and no file of the disk. What the page asks to be tried or kept it hands on
//! to whoever can ([`Hands`]).

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use super::body::Body;
pub(crate) use super::body::Shown;
use super::clients::{Clients, Seat, lock};
use super::request::{self, BAD, CONFLICT, NOT_FOUND, NOT_YET, OK, Request, Status, TOO_LONG, UNFIT};
use super::samples::Samples;
use super::token;
use crate::export::page;
use crate::text::{Problem, Problems, shown};

/// The longest head of a request that is read, in bytes; browsers send less than 2 KiB [practice].
const HEAD: usize = 8 << 10;
/// So long a client may take for its request.
const ASKING: Duration = Duration::from_secs(5);
/// So long a client may take to read its answer.
const READING: Duration = Duration::from_secs(60);
/// What a browser may do with what it gets: run and show what comes from here, ask here, and nothing else; no other page may
/// frame it. Styles in attributes place the bars.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; \
    connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Whoever tries and keeps what the page asks for; a request comes as the text of its body.
pub(crate) trait Hands: Send + Sync {
    /// The settings of the loop as its file has them.
    fn settings(&self) -> Reply;
    /// The loop with other settings, as sound.
    fn try_out(&self, asked: &[u8]) -> Reply;
    /// Other settings in the file.
    fn keep(&self, asked: &[u8]) -> Reply;
}

/// What comes of a request to them.
pub(crate) enum Reply {
    /// JSON.
    Told(String),
    /// Sound, with what there is to tell of it.
    Sound(Samples),
    /// The file is another by now, or a newer request has come: JSON that says so.
    Conflict(String),
    /// It can't be done: JSON that says why.
    Unfit(String),
}

/// A server of the listening page; it answers until the process ends.
pub(crate) struct Server {
    port: u16,
    token: Arc<str>,
    stand: Arc<Mutex<Stand>>,
}

/// What there is to be seen.
#[derive(Default)]
struct Stand {
    newest: Option<Arc<Shown>>,
    /// The one before it: a page may have been told of it already and not asked for its sound yet.
    before: Option<Arc<Shown>>,
    /// What is wrong with what was saved last.
    wrong: Option<String>,
    /// Who tries and keeps; nobody where nothing can be moved by hand.
    hands: Option<Arc<dyn Hands>>,
}

impl Server {
    /// Opens a server at a port of 127.0.0.1, or at a free one where it is 0.
    ///
    /// # Errors
    /// A port that can't be had.
    pub(crate) fn open(port: u16) -> Result<Server, Problem> {
        let failed = |error: std::io::Error| {
            let what = format!("the page can't be served at 127.0.0.1:{port}: {error}");
            Problem::new(what).help("name another port, or --page without one for a free one")
        };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(failed)?;
        let port = listener.local_addr().map_err(failed)?.port();
        let stand: Arc<Mutex<Stand>> = Arc::default();
        let shown = stand.clone();
        let clients = Arc::<Clients>::default();
        let token: Arc<str> = token::fresh().into();
        let known = token.clone();
        let serve = move || {
            for client in listener.incoming() {
                let Ok(client) = client else {
                    // Out of handles: a moment later there may be some again.
                    thread::sleep(Duration::from_millis(20));
                    continue;
                };
                let (seat, shown, known) = (Seat::take(&clients, client), shown.clone(), known.clone());
                let _ = thread::Builder::new().spawn(move || drop(answer(&seat, (port, &known), &shown)));
            }
        };
        thread::Builder::new().spawn(serve).map_err(failed)?;
        Ok(Server { port, token, stand })
    }

    /// What a page has to send with each change.
    pub(crate) fn token(&self) -> &str {
        &self.token
    }

    /// Hands changes on from now on.
    pub(crate) fn hand_on(&self, hands: Arc<dyn Hands>) {
        lock(&self.stand).hands = Some(hands);
    }

    /// Where it is.
    pub(crate) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// Shows a newer render.
    pub(crate) fn show(&self, shown: Shown) {
        let mut stand = lock(&self.stand);
        stand.before = stand.newest.take();
        stand.newest = Some(Arc::new(shown));
        stand.wrong = None;
    }

    /// Says what is wrong with what was saved last, below the render that still stands.
    pub(crate) fn warn(&self, wrong: &Problems) {
        let words: Vec<String> = wrong.0.iter().map(Problem::to_string).collect();
        lock(&self.stand).wrong = Some(shown(&words.join("\n")).into_owned());
    }
}

/// What is sent back.
struct Answer {
    status: Status,
    kind: &'static str,
    body: Body,
}

impl Answer {
    fn refusal(status: Status) -> Answer {
        Answer {
            status,
            kind: "text/plain; charset=utf-8",
            body: Body::Words(format!("{}\n", status.words)),
        }
    }

    /// What comes of a change, or of asking for settings.
    fn of(reply: Reply) -> Answer {
        let json = |status, words| Answer {
            status,
            kind: "application/json",
            body: Body::Words(words),
        };
        match reply {
            Reply::Told(words) => json(OK, words),
            Reply::Conflict(words) => json(CONFLICT, words),
            Reply::Unfit(words) => json(UNFIT, words),
            Reply::Sound(samples) => Answer {
                status: OK,
                kind: "application/octet-stream",
                body: Body::Samples(samples),
            },
        }
    }

    /// What a change gets, or whoever asks for settings.
    fn by_hand(path: &str, asked: &[u8], stand: &Mutex<Stand>) -> Answer {
        // Trying takes a while, in which others are answered.
        let Some(hands) = lock(stand).hands.clone() else {
            return Answer::refusal(NOT_FOUND);
        };
        Answer::of(match path {
            "/try" => hands.try_out(asked),
            "/keep" => hands.keep(asked),
            _ => hands.settings(),
        })
    }

    /// What a request gets.
    fn to(request: &Request, stand: &Mutex<Stand>) -> Answer {
        let found = |kind, body| Answer { status: OK, kind, body };
        if request.path == "/settings" {
            return Answer::by_hand(request.path, b"", stand);
        }
        let stand = lock(stand);
        let sound = request.path.strip_prefix("/sound/");
        match request.path {
            "/style.css" => found("text/css; charset=utf-8", Body::Words(page::served_style())),
            "/script.js" => found("text/javascript; charset=utf-8", Body::Words(page::served_script())),
            "/newest" => {
                let number = stand.newest.as_ref().map(|shown| shown.number);
                let told = serde_json::json!({ "number": number, "wrong": stand.wrong });
                found("application/json", Body::Words(told.to_string()))
            }
            "/" => match &stand.newest {
                Some(shown) => found("text/html; charset=utf-8", Body::Page(shown.clone())),
                None => Answer::refusal(NOT_YET),
            },
            _ => {
                let mut known = stand.newest.iter().chain(&stand.before);
                match known.find(|shown| sound == Some(shown.number.to_string().as_str())) {
                    Some(shown) => found("audio/wav", Body::Sound(shown.clone())),
                    None => Answer::refusal(NOT_FOUND),
                }
            }
        }
    }

    fn send(&self, seat: &Seat, head_alone: bool) -> std::io::Result<()> {
        let mut client = seat.stream();
        let Status { code, words, allow } = self.status;
        let allow = allow.map_or(String::new(), |methods| format!("Allow: {methods}\r\n"));
        let (kind, length, timing) = (self.kind, self.body.len(), self.body.timing());
        let head = format!(
            "HTTP/1.1 {code} {words}\r\n{allow}{timing}Content-Type: {kind}\r\nContent-Length: {length}\r\n\
             Cache-Control: no-store\r\nContent-Security-Policy: {POLICY}\r\n\
             Cross-Origin-Resource-Policy: same-origin\r\nCross-Origin-Opener-Policy: same-origin\r\n\
             X-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\nConnection: close\r\n\r\n"
        );
        let until = Instant::now() + READING;
        client.write_all(head.as_bytes())?;
        if head_alone {
            return Ok(());
        }
        self.body.each(|piece| {
            client.set_write_timeout(Some(left(until)?))?;
            client.write_all(piece)?;
            seat.moved();
            Ok(())
        })
    }
}

/// Reads a request and answers it.
fn answer(seat: &Seat, (port, token): (u16, &str), stand: &Mutex<Stand>) -> std::io::Result<()> {
    let mut client = seat.stream();
    client.set_write_timeout(Some(ASKING))?;
    client.set_nodelay(true)?;
    let read = read_head(seat)?;
    let request = read.as_ref().map_err(|status| *status);
    let request = request.and_then(|(head, rest)| Ok((request::read(head, port, token)?, rest)));
    let (answer, head_alone) = match request {
        Ok((request, begun)) => match request.change {
            Some(length) => (
                Answer::by_hand(request.path, &read_rest(seat, begun, length)?, stand),
                false,
            ),
            None => (Answer::to(&request, stand), request.head),
        },
        Err(status) => (Answer::refusal(status), false),
    };
    answer.send(seat, head_alone)?;
    client.shutdown(Shutdown::Write)?;
    // What is left unread when a connection is closed may keep the answer from arriving.
    let (until, mut rest) = (Instant::now() + ASKING / 5, [0; 1 << 10]);
    while left(until).is_ok_and(|left| client.set_read_timeout(Some(left)).is_ok()) {
        match client.read(&mut rest) {
            Ok(0) | Err(_) => break,
            Ok(_) => {}
        }
    }
    Ok(())
}

/// The bytes that follow a head, of which some were read with it.
fn read_rest(seat: &Seat, begun: &[u8], length: usize) -> std::io::Result<Vec<u8>> {
    let mut client = seat.stream();
    let until = Instant::now() + ASKING;
    let mut rest = begun[..begun.len().min(length)].to_vec();
    let mut piece = [0; 1 << 10];
    while rest.len() < length {
        client.set_read_timeout(Some(left(until)?))?;
        let most = piece.len().min(length - rest.len());
        match client.read(&mut piece[..most]) {
            Ok(0) => return Err(ErrorKind::UnexpectedEof.into()),
            Ok(read) => rest.extend_from_slice(&piece[..read]),
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        }
        seat.moved();
    }
    Ok(rest)
}

/// A head without the empty line behind it, and what has come behind that already.
type Head = (Vec<u8>, Vec<u8>);

/// Reads the head of a request.
fn read_head(seat: &Seat) -> std::io::Result<Result<Head, Status>> {
    let mut client = seat.stream();
    let until = Instant::now() + ASKING;
    let mut head = Vec::new();
    let mut piece = [0; 1 << 10];
    loop {
        client.set_read_timeout(Some(left(until)?))?;
        let read = match client.read(&mut piece) {
            Ok(read) => read,
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        seat.moved();
        head.extend_from_slice(&piece[..read]);
        if let Some(end) = head.windows(4).position(|four| four == b"\r\n\r\n") {
            let rest = head.split_off(end).split_off(4);
            return Ok(match head.len() > HEAD {
                true => Err(TOO_LONG),
                false => Ok((head, rest)),
            });
        }
        if head.len() > HEAD {
            return Ok(Err(TOO_LONG));
        }
        if read == 0 {
            return Ok(Err(BAD));
        }
    }
}

/// What is left of a client's time.
fn left(until: Instant) -> std::io::Result<Duration> {
    let left = until.saturating_duration_since(Instant::now());
    match left.is_zero() {
        true => Err(ErrorKind::TimedOut.into()),
        false => Ok(left),
    }
}

#[cfg(test)]
mod tests {
    use std::net::TcpStream;

    use super::*;

    /// A server that shows a page and a sound longer than any socket holds.
    fn server() -> Server {
        let server = Server::open(0).expect("a free port");
        server.show(Shown {
            number: 1,
            page: "the late show".into(),
            sound: vec![7; 32 << 20],
        });
        server
    }

    /// A client that asks, or says nothing.
    fn client(server: &Server, path: Option<&str>) -> TcpStream {
        let mut client = TcpStream::connect((Ipv4Addr::LOCALHOST, server.port)).expect("the server is there");
        if let Some(path) = path {
            let request = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n", server.port);
            client.write_all(request.as_bytes()).expect("it is heard");
        }
        client
    }

    /// What a client is answered.
    fn answered(mut client: TcpStream) -> Vec<u8> {
        let mut answer = Vec::new();
        client.read_to_end(&mut answer).expect("an answer");
        answer
    }

    #[test]
    fn silent_and_slow_clients_keep_nobody_from_the_page() {
        for path in [None, Some("/sound/1")] {
            let server = server();
            // None of them reads a byte; each is begun with before the next one comes.
            let slow: Vec<TcpStream> = (0..50)
                .map(|_| {
                    let client = client(&server, path);
                    let mut first = [0];
                    if path.is_some() {
                        client.peek(&mut first).expect("its answer has begun");
                    }
                    client
                })
                .collect();
            for _ in 0..3 {
                let page = answered(client(&server, Some("/")));
                assert!(page.ends_with(b"the late show"), "{path:?}");
                let sound = answered(client(&server, Some("/sound/1")));
                assert!(sound.len() > 32 << 20, "{path:?}: {} bytes", sound.len());
            }
            drop(slow);
        }
    }
}
