//! Who may ask: the right host, the right origin, and the token.
//!
//! A page of another place, opened in the same browser, must not reach the bench: its requests carry
//! another `Origin`, and where its name was pointed at this computer (DNS rebinding), another `Host`.
//! Another program or another person on the same computer has no token.

use super::callers::Caller;
use super::reply;
use super::token::Token;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;

/// Nobody can guess faster than one wrong token in this time, over all connections.
const A_GUESS: Duration = Duration::from_millis(250);

/// What a request has to show.
#[derive(Clone, Debug)]
pub(super) struct Guard {
    /// Where the server listens.
    address: SocketAddr,
    token: Token,
    /// The cookie has the port in its name: benches of one computer share its cookies.
    cookie: Arc<str>,
    /// Whose turn it is to be told that a token is wrong.
    turn: Arc<Semaphore>,
}

/// What a request shows of the token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shown {
    Nothing,
    Wrong,
    Right,
}

/// A header of a request.
enum Given<'h> {
    Absent,
    Once(&'h str),
    /// It is there, but several times or with signs that it cannot have.
    Strange,
}

impl Guard {
    pub(super) fn new(address: SocketAddr, token: Token) -> Self {
        Self {
            address,
            token,
            cookie: format!("heelclear_{}", address.port()).into(),
            turn: Arc::new(Semaphore::new(1)),
        }
    }

    /// Whether `Host` is a name of this place: an address with our port, or `localhost` where only
    /// this computer can reach us. A name of somebody else's is not, whatever it points to.
    fn knows(&self, host: &str) -> bool {
        let port = self.address.port().to_string();
        let name = match host.rsplit_once(':') {
            Some((name, given)) if !given.ends_with(']') => (given == port).then_some(name),
            _ => (port == "80").then_some(host),
        };
        let ours = self.address.ip();
        let Some(name) = name else {
            return false;
        };
        if name.eq_ignore_ascii_case("localhost") {
            return ours.is_loopback();
        }
        let bracketed = name.strip_prefix('[').and_then(|it| it.strip_suffix(']'));
        let ip = match bracketed {
            Some(inside) => inside.parse::<Ipv6Addr>().map(IpAddr::V6),
            None => name.parse::<Ipv4Addr>().map(IpAddr::V4),
        };
        ip.is_ok_and(|ip| {
            ip == ours || ours.is_unspecified() || (ours.is_loopback() && ip.is_loopback())
        })
    }

    /// Why a request may ask for nothing, whatever token it shows.
    fn refusal(&self, request: &Request) -> Option<&'static str> {
        let headers = request.headers();
        let host = match once(headers, "host") {
            Given::Once(host) if self.knows(host) && is_of(request.uri(), host) => host,
            _ => {
                return Some(
                    "this name is not one of the bench: open the address that `heelclear bench` printed",
                );
            }
        };
        // A browser writes it in small letters, without a port where that is the usual one.
        let own = format!("http://{}", host.to_ascii_lowercase());
        let same = match once(headers, "origin") {
            Given::Absent => true,
            Given::Once(origin) => origin == own,
            Given::Strange => false,
        };
        let near = match once(headers, "sec-fetch-site") {
            Given::Absent | Given::Once("same-origin" | "none") => true,
            // A link from elsewhere may open the page itself, and nothing more.
            Given::Once("cross-site" | "same-site") => opens(request),
            _ => false,
        };
        if !same || !near {
            return Some("a page of another place may not ask the bench for anything");
        }
        // A form of another place can send no such header without being asked for leave first.
        let ours = matches!(once(headers, "x-heelclear"), Given::Once("1"));
        if request.method() != Method::GET && !ours {
            return Some("a request that changes something needs the header `x-heelclear: 1`");
        }
        None
    }

    /// What the cookie shows. One that stands there twice shows nothing right: nobody could say which
    /// of them is ours.
    fn cookie_shows(&self, headers: &HeaderMap) -> Shown {
        let lines = headers.get_all(header::COOKIE).iter();
        let pairs = lines.flat_map(|line| line.as_bytes().split(|sign| *sign == b';'));
        let ours = pairs.filter_map(|pair| {
            let value = pair.trim_ascii().strip_prefix(self.cookie.as_bytes())?;
            value.strip_prefix(b"=")
        });
        self.shows(ours)
    }

    /// What the address shows, where it opens the page.
    fn address_shows(&self, uri: &Uri) -> Shown {
        let pairs = uri.query().unwrap_or_default().split('&');
        let ours = pairs.filter_map(|pair| pair.strip_prefix("token="));
        match uri.path() {
            "/" => self.shows(ours.map(str::as_bytes)),
            _ => Shown::Nothing,
        }
    }

    fn shows<'v>(&self, mut values: impl Iterator<Item = &'v [u8]>) -> Shown {
        match (values.next(), values.next()) {
            (None, _) => Shown::Nothing,
            (Some(value), None) if self.token.is(value) => Shown::Right,
            _ => Shown::Wrong,
        }
    }

    /// From here on a cookie shows it, so that it stands in no address any more.
    fn in_a_cookie(&self) -> Response {
        let (name, token) = (&self.cookie, self.token.secret());
        let cookie = format!("{name}={token}; Path=/; HttpOnly; SameSite=Strict");
        let headers = [
            (header::SET_COOKIE, cookie),
            (header::LOCATION, "/".to_owned()),
        ];
        (StatusCode::SEE_OTHER, headers).into_response()
    }

    async fn answer(&self, request: Request, next: Next) -> Response {
        if let Some(why) = self.refusal(&request) {
            return alone(reply::refused(StatusCode::FORBIDDEN, why));
        }
        let cookie = self.cookie_shows(request.headers());
        let address = self.address_shows(request.uri());
        if cookie == Shown::Right || address == Shown::Right {
            if let Some(caller) = request.extensions().get::<Caller>() {
                caller.asks();
            }
            // An address with a token in it is left at once, whatever else shows who asks.
            return match address {
                Shown::Nothing => next.run(request).await,
                _ => self.in_a_cookie(),
            };
        }
        if cookie == Shown::Wrong || address == Shown::Wrong {
            let _turn = self.turn.acquire().await;
            tokio::time::sleep(A_GUESS).await;
        }
        let talks = request.uri().path().starts_with("/api/");
        alone(reply::token_wanted(talks))
    }
}

/// Whether a request opens the page in a window.
fn opens(request: &Request) -> bool {
    let window = match once(request.headers(), "sec-fetch-mode") {
        Given::Absent | Given::Once("navigate") => true,
        Given::Once(_) | Given::Strange => false,
    };
    window && request.uri().path() == "/" && request.method() == Method::GET
}

/// Whether an address that names a place names this one.
fn is_of(uri: &Uri, host: &str) -> bool {
    let place = uri.authority().map(|place| place.as_str());
    let way = uri.scheme_str();
    way.is_none_or(|way| way == "http") && place.is_none_or(|it| it.eq_ignore_ascii_case(host))
}

fn once<'h>(headers: &'h HeaderMap, name: &str) -> Given<'h> {
    let mut all = headers.get_all(name).iter();
    match (all.next().map(HeaderValue::to_str), all.next()) {
        (None, _) => Given::Absent,
        (Some(Ok(text)), None) => Given::Once(text),
        _ => Given::Strange,
    }
}

/// The last answer on its connection: who may not ask is not waited for.
fn alone(mut response: Response) -> Response {
    let close = HeaderValue::from_static("close");
    response.headers_mut().insert(header::CONNECTION, close);
    response
}

/// Refuses what may not ask, and adds to every answer what a browser is to be strict about.
pub(super) async fn stand(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let mut response = guard.answer(request, next).await;
    strict(&mut response);
    response
}

fn strict(response: &mut Response<Body>) {
    const STRICT: [(&str, &str); 5] = [
        (
            "content-security-policy",
            "default-src 'self'; img-src 'self' data:; style-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
        ),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cache-control", "no-store"),
    ];
    for (name, value) in STRICT {
        // An answer that says so itself knows better: a report has styles of its own.
        response
            .headers_mut()
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn guard(listens: &str) -> Guard {
        Guard::new(
            listens.parse().unwrap(),
            Token::given("oil-on-the-hand").unwrap(),
        )
    }

    #[track_caller]
    fn check(listens: &str, known: &[&str], unknown: &[&str]) {
        let guard = guard(listens);
        for host in known {
            assert!(guard.knows(host), "{host} at {listens}");
        }
        for host in unknown {
            assert!(!guard.knows(host), "{host} at {listens}");
        }
    }

    #[test]
    fn a_host_is_known_by_its_address_and_port() {
        check(
            "127.0.0.1:7180",
            &[
                "127.0.0.1:7180",
                "localhost:7180",
                "LOCALHOST:7180",
                "[::1]:7180",
            ],
            &[
                "evil.example:7180",
                "127.0.0.1:80",
                "127.0.0.1",
                "localhost",
                "",
                "10.0.0.9:7180",
                "localhost.evil.example:7180",
                "localhost.:7180",
                "127.0.0.1.:7180",
                "[127.0.0.1]:7180",
                "[[::1]]:7180",
                "::1:7180",
                "127.0.0.1:+7180",
                "127.0.0.1:07180",
                "127.0.0.1:7180:7180",
                "user@127.0.0.1:7180",
                "127.1:7180",
                "2130706433:7180",
                "0.0.0.0:7180",
            ],
        );
        check(
            "127.0.0.1:80",
            &["127.0.0.1", "localhost:80"],
            &["a.example"],
        );
        check(
            "192.168.1.20:7180",
            &["192.168.1.20:7180"],
            &["192.168.1.21:7180", "localhost:7180", "bench.example:7180"],
        );
        check(
            "0.0.0.0:7180",
            &["192.168.1.20:7180"],
            &["bench.example:7180"],
        );
    }

    #[test]
    fn a_cookie_shows_the_token_once_or_not_at_all() {
        #[track_caller]
        fn check(cookies: &[&[u8]], expected: Shown) {
            let mut headers = HeaderMap::new();
            for cookie in cookies {
                headers.append("cookie", HeaderValue::from_bytes(cookie).unwrap());
            }
            let shown = guard("127.0.0.1:7180").cookie_shows(&headers);
            assert_eq!(shown, expected, "{cookies:?}");
        }
        let right: &[u8] = b"heelclear_7180=oil-on-the-hand";
        check(&[], Shown::Nothing);
        check(&[right], Shown::Right);
        check(&[b"a=b; heelclear_7180=oil-on-the-hand;c"], Shown::Right);
        // What another program of this computer keeps in the browser is none of our business.
        check(
            &[b"name=f\xc3\xbcr; heelclear_7180=oil-on-the-hand"],
            Shown::Right,
        );
        check(&[b"heelclear_7181=oil-on-the-hand"], Shown::Nothing);
        check(&[b"xheelclear_7180=oil-on-the-hand"], Shown::Nothing);
        check(&[b"heelclear_7180 =oil-on-the-hand"], Shown::Nothing);
        check(&[b"heelclear_7180=\"oil-on-the-hand\""], Shown::Wrong);
        check(&[b"heelclear_7180="], Shown::Wrong);
        check(&[right, right], Shown::Wrong);
        check(
            &[b"heelclear_7180=oil-on-the-hand; heelclear_7180=other"],
            Shown::Wrong,
        );
    }
}
