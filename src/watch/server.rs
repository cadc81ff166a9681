//! The listening page on 127.0.0.1, with the newest render.
//!
//! A small server of HTTP/1.1 for one page: it reads heads of bounded size within a bounded time, answers each request and closes
//! the connection, and serves what it was handed and no file of the disk.

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::request::{self, BAD, METHOD, NOT_FOUND, NOT_YET, OK, Request, Status, TOO_LONG};
use crate::export::page;
use crate::text::{Problem, Problems, shown};

/// The longest head of a request that is read, in bytes; browsers send less than 2 KiB [practice].
const HEAD: usize = 8 << 10;
/// So long a client may take for its request.
const ASKING: Duration = Duration::from_secs(5);
/// So long a client may take to read its answer.
const READING: Duration = Duration::from_secs(60);
/// So many clients are answered at a time; browsers open six [practice]. Who comes when there are as many takes the place of
/// the one that has been idle for longest.
const CLIENTS: usize = 32;
/// Bytes that are sent at a time.
const PIECE: usize = 64 << 10;

/// What a browser may do with what it gets: run and show what comes from here, ask here, and nothing else; no other page may
/// frame it. Styles in attributes place the bars.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; \
    connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A render as the page shows it.
pub(crate) struct Shown {
    /// Counts renders, so that a page sees that there is a newer one.
    pub number: u64,
    /// The page's HTML.
    pub page: String,
    /// The finished WAV.
    pub sound: Vec<u8>,
}

/// A server of the listening page; it answers until the process ends.
pub(crate) struct Server {
    port: u16,
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
        let serve = move || {
            for client in listener.incoming() {
                let Ok(client) = client else {
                    // Out of handles: a moment later there may be some again.
                    thread::sleep(Duration::from_millis(20));
                    continue;
                };
                let (seat, shown) = (Seat::take(&clients, client), shown.clone());
                let _ = thread::Builder::new().spawn(move || drop(answer(&seat, port, &shown)));
            }
        };
        thread::Builder::new().spawn(serve).map_err(failed)?;
        Ok(Server { port, stand })
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

fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The clients that are answered at a time.
type Clients = Mutex<Vec<Arc<Client>>>;

/// A client, and when it last took or gave anything.
struct Client {
    stream: TcpStream,
    moved: Mutex<Instant>,
}

/// A client's place among the few.
struct Seat {
    client: Arc<Client>,
    clients: Arc<Clients>,
}

impl Seat {
    /// Seats a client; where all seats are taken, the idlest client is hung up on. So silent and slow ones keep nobody waiting.
    fn take(clients: &Arc<Clients>, stream: TcpStream) -> Seat {
        let moved = Mutex::new(Instant::now());
        let client = Arc::new(Client { stream, moved });
        let mut all = lock(clients);
        if all.len() >= CLIENTS {
            let idle = (0..all.len()).min_by_key(|at| *lock(&all[*at].moved));
            let idle = all.swap_remove(idle.expect("there are clients"));
            let _ = idle.stream.shutdown(Shutdown::Both);
        }
        all.push(client.clone());
        drop(all);
        let clients = clients.clone();
        Seat { client, clients }
    }

    fn stream(&self) -> &TcpStream {
        &self.client.stream
    }

    /// Remembers that it is not idle.
    fn moved(&self) {
        *lock(&self.client.moved) = Instant::now();
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        lock(&self.clients).retain(|other| !Arc::ptr_eq(other, &self.client));
    }
}

/// What is sent back.
struct Answer {
    status: Status,
    kind: &'static str,
    body: Body,
}

enum Body {
    Words(String),
    Page(Arc<Shown>),
    Sound(Arc<Shown>),
}

impl Body {
    fn bytes(&self) -> &[u8] {
        match self {
            Body::Words(words) => words.as_bytes(),
            Body::Page(shown) => shown.page.as_bytes(),
            Body::Sound(shown) => &shown.sound,
        }
    }
}

impl Answer {
    fn refusal(status: Status) -> Answer {
        Answer {
            status,
            kind: "text/plain; charset=utf-8",
            body: Body::Words(format!("{}\n", status.1)),
        }
    }

    /// What a request gets.
    fn to(request: &Request, stand: &Mutex<Stand>) -> Answer {
        let found = |kind, body| Answer { status: OK, kind, body };
        let stand = lock(stand);
        let sound = request.path.strip_prefix("/sound/");
        match request.path {
            "/style.css" => found("text/css; charset=utf-8", Body::Words(page::STYLE.to_string())),
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
        let Status(code, words) = self.status;
        let allow = if self.status == METHOD {
            "Allow: GET, HEAD\r\n"
        } else {
            ""
        };
        let (kind, length) = (self.kind, self.body.bytes().len());
        let head = format!(
            "HTTP/1.1 {code} {words}\r\n{allow}Content-Type: {kind}\r\nContent-Length: {length}\r\n\
             Cache-Control: no-store\r\nContent-Security-Policy: {POLICY}\r\n\
             Cross-Origin-Resource-Policy: same-origin\r\nCross-Origin-Opener-Policy: same-origin\r\n\
             X-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\nConnection: close\r\n\r\n"
        );
        let until = Instant::now() + READING;
        client.write_all(head.as_bytes())?;
        if head_alone {
            return Ok(());
        }
        for piece in self.body.bytes().chunks(PIECE) {
            client.set_write_timeout(Some(left(until)?))?;
            client.write_all(piece)?;
            seat.moved();
        }
        Ok(())
    }
}

/// Reads a request and answers it.
fn answer(seat: &Seat, port: u16, stand: &Mutex<Stand>) -> std::io::Result<()> {
    let mut client = seat.stream();
    client.set_write_timeout(Some(ASKING))?;
    client.set_nodelay(true)?;
    let head = read_head(seat)?;
    let request = head.as_deref().map_err(|status| *status);
    let request = request.and_then(|head| request::read(head, port));
    let (answer, head_alone) = match request {
        Ok(request) => (Answer::to(&request, stand), request.head),
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

/// The head of a request, without the empty line behind it.
fn read_head(seat: &Seat) -> std::io::Result<Result<Vec<u8>, Status>> {
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
        if head.len() > HEAD {
            return Ok(Err(TOO_LONG));
        }
        if let Some(end) = head.windows(4).position(|four| four == b"\r\n\r\n") {
            head.truncate(end);
            return Ok(Ok(head));
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
