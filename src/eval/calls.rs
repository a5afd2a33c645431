//! Who is called, by when, and who next (M16).
//!
//! A call is open until it is due. Of several open calls of one role the one that
//! is due first stands; what the others ordered is thereby done.

use super::event::Call;
use crate::model::{Protocol, RoleId};
use crate::quantity::Exact;

#[derive(Debug, Clone)]
pub struct Calls {
    /// By role: when the open call is due.
    open: Vec<Option<Exact>>,
}

impl Calls {
    pub fn new(protocol: &Protocol) -> Self {
        Calls {
            open: protocol.roles().map(|_| None).collect(),
        }
    }

    /// A call no later than `by`. Gives the call that now stands where this one
    /// made a difference.
    pub fn call(
        &mut self,
        protocol: &Protocol,
        role: RoleId,
        by: Exact,
        now: Exact,
    ) -> Option<Call> {
        let open = self.open.get_mut(role.index())?;
        if open.is_some_and(|due| due >= now && due <= by) {
            return None;
        }
        *open = Some(by);
        Some(Call {
            role,
            by,
            no_reply: no_reply(protocol, role, by),
        })
    }
}

/// Who is called one after the other while nobody replies; each role once.
fn no_reply(protocol: &Protocol, role: RoleId, by: Exact) -> Vec<(Exact, RoleId)> {
    let mut chain = Vec::new();
    let mut called = vec![role];
    let (mut role, mut at) = (role, by);
    while let Some((after, next)) = &protocol[role].no_reply {
        if called.contains(next) {
            break;
        }
        at = at + after.value;
        role = *next;
        called.push(role);
        chain.push((at, role));
    }
    chain
}
