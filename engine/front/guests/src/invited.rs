//! Who may play: the person who starts a script says so.

use std::collections::BTreeMap;

use dryturn_handoff::GuestRole;
use dryturn_scene::Scene;
use dryturn_scene::file::{Guest, Guests};
use thiserror::Error;

use crate::command::{GuestCommand, Limits};

/// Who may play in the scenes of a script. By default nobody may.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Invited {
    /// Guests that play in every scene, in the place of the scene's own.
    pub named: BTreeMap<GuestRole, GuestCommand>,
    /// Whether guests may play that a scene names.
    pub of_scenes: bool,
}

/// A scene names a guest that may not play.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error(
    "{scene}: guests.{role}.command names the program {program:?}: it is started only with \
     --allow-guests, or where --guest {role}=COMMAND names one"
)]
pub struct NotInvited {
    /// The scene's name.
    pub scene: String,
    /// What the guest would play.
    pub role: GuestRole,
    /// Its program.
    pub program: String,
}

impl Invited {
    /// Whether somebody may play.
    #[must_use]
    pub fn anybody(&self) -> bool {
        self.of_scenes || !self.named.is_empty()
    }

    /// Whether all that a scene names may play.
    ///
    /// # Errors
    /// One may not.
    pub fn check(&self, scene: &Scene) -> Result<(), NotInvited> {
        GuestRole::ALL.into_iter().try_for_each(|role| self.who(scene, role).map(drop))
    }

    /// Who plays a stage in a scene, within the scene's limits; `None` where Dryturn does.
    ///
    /// # Errors
    /// The scene names a guest that may not play.
    pub fn who(
        &self,
        scene: &Scene,
        role: GuestRole,
    ) -> Result<Option<(GuestCommand, Limits)>, NotInvited> {
        let guest = declared(&scene.file().guests, role);
        let limits = Limits::of_scene(guest);
        if let Some(command) = self.named.get(&role) {
            return Ok(Some((command.clone(), limits)));
        }
        match GuestCommand::of_scene(guest) {
            Some(command) if !self.of_scenes => {
                let (scene, program) = (scene.source_name().to_owned(), command.program());
                Err(NotInvited { scene, role, program: program.to_owned() })
            }
            command => Ok(command.map(|command| (command, limits))),
        }
    }
}

/// What a scene says of a role's guest.
#[must_use]
pub fn declared(guests: &Guests, role: GuestRole) -> &Guest {
    match role {
        GuestRole::Reader => &guests.reader,
        GuestRole::Planner => &guests.planner,
        GuestRole::Host => &guests.host,
        GuestRole::Controller => &guests.controller,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scenes_start_nobody_by_themselves() {
        let plain = dryturn_scene::starter();
        let scene = plain.with_text("guests.host.command", r#"["./host", "-v"]"#).unwrap();
        let scene = scene.with_text("guests.host.limit_ms", "50").unwrap();
        let words = |invited: &Invited, scene: &Scene, role| {
            invited.who(scene, role).map(|who| who.map(|(command, _)| command.words().join(" ")))
        };
        let nobody = Invited::default();
        assert_eq!(words(&nobody, &plain, GuestRole::Host), Ok(None));
        assert_eq!(words(&nobody, &scene, GuestRole::Reader), Ok(None));
        let refused = words(&nobody, &scene, GuestRole::Host).unwrap_err().to_string();
        assert!(refused.contains("guests.host.command") && refused.contains("--allow-guests"));
        assert_eq!((nobody.check(&plain), nobody.check(&scene).is_err()), (Ok(()), true));
        let scenes = Invited { of_scenes: true, ..nobody.clone() };
        assert_eq!(words(&scenes, &scene, GuestRole::Host), Ok(Some("./host -v".to_owned())));
        let mut named = nobody;
        named.named.insert(GuestRole::Host, GuestCommand::parse("./other").unwrap());
        let (other, limits) = named.who(&scene, GuestRole::Host).unwrap().unwrap();
        assert_eq!((other.words().join(" ").as_str(), limits.answer.as_millis()), ("./other", 50));
        assert!(named.anybody() && scenes.anybody() && !Invited::default().anybody());
    }
}
