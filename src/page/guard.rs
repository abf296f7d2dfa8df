//! Who may ask: the right host, the right origin, and the token where one is wanted.
//!
//! A page of another place, opened in the same browser, must not reach the bench: its requests carry
//! another `Origin`, and where its name was pointed at this computer (DNS rebinding), another `Host`.

use super::reply;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

const COOKIE: &str = "heelclear_token";

/// What a request has to show.
#[derive(Clone, Debug)]
pub(super) struct Guard {
    /// Where the server listens.
    address: SocketAddr,
    token: Option<Arc<str>>,
}

impl Guard {
    pub(super) fn new(address: SocketAddr, token: Option<&str>) -> Self {
        Self {
            address,
            token: token.map(Arc::from),
        }
    }

    /// Whether `Host` is a name of this place: an address with our port, or `localhost` where only
    /// this computer can reach us. A name of somebody else's is not, whatever it points to.
    fn knows(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        if port != Some(self.address.port()) {
            return false;
        }
        if name.eq_ignore_ascii_case("localhost") {
            return self.address.ip().is_loopback();
        }
        let ip = name.trim_start_matches('[').trim_end_matches(']');
        ip.parse::<IpAddr>().is_ok_and(|ip| {
            let ours = self.address.ip();
            ip == ours || ours.is_unspecified() || (ours.is_loopback() && ip.is_loopback())
        })
    }

    fn refusal(&self, request: &Request) -> Option<Response> {
        let headers = request.headers();
        let host = text(headers, header::HOST.as_str()).unwrap_or_default();
        if !self.knows(host) {
            return Some(reply::refused(
                StatusCode::FORBIDDEN,
                "this name is not one of the bench: open the address that `heelclear bench` printed",
            ));
        }
        let same = |origin: &str| origin.eq_ignore_ascii_case(&format!("http://{host}"));
        let foreign = text(headers, "origin").is_some_and(|origin| !same(origin));
        let cross = text(headers, "sec-fetch-site").is_some_and(|site| {
            // A bookmark or a typed address has `none`; a link from elsewhere may open the page
            // itself, and nothing more.
            let opens = request.uri().path() == "/" && request.method() == Method::GET;
            !matches!(site, "same-origin" | "none") && !opens
        });
        if foreign || cross {
            return Some(reply::refused(
                StatusCode::FORBIDDEN,
                "a page of another place may not ask the bench for anything",
            ));
        }
        // A form of another place can send no such header without being asked for leave first.
        if request.method() != Method::GET && text(headers, "x-heelclear") != Some("1") {
            return Some(reply::refused(
                StatusCode::FORBIDDEN,
                "a request that changes something needs the header `x-heelclear: 1`",
            ));
        }
        self.token_refusal(request)
    }

    fn token_refusal(&self, request: &Request) -> Option<Response> {
        let token = self.token.as_deref()?;
        let headers = request.headers();
        let cookies = text(headers, "cookie").unwrap_or_default().split(';');
        let mut cookies = cookies.filter_map(|cookie| cookie.trim().split_once('='));
        let shown = cookies.find(|(name, _)| *name == COOKIE);
        if shown.is_some_and(|(_, value)| same_secret(value, token)) {
            return None;
        }
        let query = request.uri().query().unwrap_or_default().split('&');
        let mut given = query.filter_map(|pair| pair.strip_prefix("token="));
        let right = given.next().is_some_and(|value| same_secret(value, token));
        if request.uri().path() == "/" && right {
            // From here on a cookie shows it, so that it stands in no address any more.
            let cookie = format!("{COOKIE}={token}; Path=/; HttpOnly; SameSite=Strict");
            let headers = [
                (header::SET_COOKIE, cookie),
                (header::LOCATION, "/".to_owned()),
            ];
            return Some((StatusCode::SEE_OTHER, headers).into_response());
        }
        Some(reply::token_wanted())
    }
}

/// Takes as long whatever is wrong, so that no one can feel their way to the token.
fn same_secret(one: &str, other: &str) -> bool {
    let (one, other) = (one.as_bytes(), other.as_bytes());
    let differ = one.iter().zip(other).fold(0, |all, (a, b)| all | (a ^ b));
    one.len() == other.len() && differ == 0
}

fn text<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    headers.get(name)?.to_str().ok()
}

/// Refuses what may not ask, and adds to every answer what a browser is to be strict about.
pub(super) async fn stand(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let mut response = match guard.refusal(&request) {
        Some(refusal) => refusal,
        None => next.run(request).await,
    };
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
    use super::*;

    #[track_caller]
    fn check(listens: &str, known: &[&str], unknown: &[&str]) {
        let address = listens
            .parse()
            .unwrap_or(SocketAddr::from(([0, 0, 0, 0], 0)));
        let guard = Guard::new(address, None);
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
            ],
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
    fn a_secret_is_the_same_only_whole() {
        assert!(same_secret("abc", "abc"));
        assert!(!same_secret("abc", "abcd") && !same_secret("", "a") && !same_secret("abd", "abc"));
    }
}
