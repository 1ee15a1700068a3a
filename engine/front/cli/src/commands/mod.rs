//! One file a command.

use dryturn_record::documents::{Document, GivenSetting, Issued};
use dryturn_scene::Visibility;

use crate::failure::Failure;
use crate::output::{Earlier, OutputFolder};
use crate::shared::Shared;

pub(crate) mod calibrate;
pub(crate) mod camera;
pub(crate) mod check;
pub(crate) mod drill_axes;
pub(crate) mod follow;
pub(crate) mod frames;
pub(crate) mod guest;
pub(crate) mod identify;
pub(crate) mod new;
pub(crate) mod overlay;
pub(crate) mod plan;
pub(crate) mod read;
pub(crate) mod rehearse;
pub(crate) mod schema;
pub(crate) mod survey;
pub(crate) mod tables;
pub(crate) mod tune;
pub(crate) mod verbs;

/// Why a layout that reads nothing cannot do what it is there for, in a sentence without its
/// full stop.
pub(crate) fn blind(name: &str, visibility: &Visibility) -> Option<String> {
    (!visibility.reads_anything())
        .then(|| format!("{name}: no camera reads a facelet: no cube can be read in this layout"))
}

/// What a command says, with the version of its keys.
pub(crate) fn issued(document: Document) -> Issued {
    document.into()
}

/// Fields that were changed before the work.
pub(crate) fn given(settings: &[(String, String)]) -> Vec<GivenSetting> {
    let one = |(field, value): &(String, String)| GivenSetting {
        field: field.clone(),
        value: value.clone(),
    };
    settings.iter().map(one).collect()
}

/// Where a command has been told to write, if anywhere: taken before the work begins, so that
/// what is in the way of writing is found first.
pub(crate) struct Out(Option<OutputFolder>);

impl Out {
    /// Takes the folder; `names` are files that will be written there.
    pub(crate) fn open(shared: &Shared, names: &[&str]) -> Result<Self, Failure> {
        let Some(root) = &shared.out else { return Ok(Self(None)) };
        let folder = OutputFolder::open(root)?;
        names.iter().try_for_each(|name| folder.check_target(name))?;
        Ok(Self(Some(folder)))
    }

    /// The folder.
    pub(crate) fn folder(&self) -> Option<&OutputFolder> {
        self.0.as_ref()
    }

    /// Writes the document under a name, with other files beside it; `record` is the hidden
    /// record of unfinished work that this finishes.
    pub(crate) fn finish(
        self,
        document: &Issued,
        name: &str,
        others: &[(&str, impl AsRef<[u8]>)],
        record: Option<&str>,
    ) -> Result<(), Failure> {
        let Some(mut folder) = self.0 else { return Ok(()) };
        folder.write(name, dryturn_record::json_text(document).as_bytes())?;
        others.iter().try_for_each(|(name, bytes)| folder.write(name, bytes.as_ref()))?;
        folder.commit(Earlier::Keep, record)
    }

    /// The document with other files beside it.
    pub(crate) fn keep_all(
        self,
        document: &Issued,
        name: &str,
        others: &[(&str, String)],
    ) -> Result<(), Failure> {
        self.finish(document, name, others, None)
    }

    /// The document alone.
    pub(crate) fn keep(self, document: &Issued, name: &str) -> Result<(), Failure> {
        self.keep_all(document, name, &[])
    }
}
