//! The clients of the page's server: so many at a time, and none that keeps the others waiting.

use std::net::{Shutdown, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// So many clients are answered at a time; browsers open six [practice]. Who comes when there are as many takes the place of
/// the one that has been idle for longest.
const CLIENTS: usize = 32;

/// What is shared, whatever became of who held it before.
pub(super) fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The clients that are answered at a time.
pub(super) type Clients = Mutex<Vec<Arc<Client>>>;

/// A client, and when it last took or gave anything.
pub(super) struct Client {
    stream: TcpStream,
    moved: Mutex<Instant>,
}

/// A client's place among the few.
pub(super) struct Seat {
    client: Arc<Client>,
    clients: Arc<Clients>,
}

impl Seat {
    /// Seats a client; where all seats are taken, the idlest client is hung up on. So silent and slow ones keep nobody waiting.
    pub(super) fn take(clients: &Arc<Clients>, stream: TcpStream) -> Seat {
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

    /// Its connection.
    pub(super) fn stream(&self) -> &TcpStream {
        &self.client.stream
    }

    /// Remembers that it is not idle.
    pub(super) fn moved(&self) {
        *lock(&self.client.moved) = Instant::now();
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        lock(&self.clients).retain(|other| !Arc::ptr_eq(other, &self.client));
    }
}
