//! Packs by the name that a person writes: a layer, or a place with everything that holds in it.

use crate::library::Packs;
use crate::pack::Pack;
use crate::place::{PlaceCode, PlaceCodeError};

impl Packs {
    /// Returns the packs that a name asks for: the layer or layers of that name, or everything that holds in a place.
    ///
    /// # Errors
    /// The name is neither a layer nor a place.
    pub fn named(&self, name: &str) -> Result<Vec<&Pack>, PlaceCodeError> {
        let layer = |pack: &&Pack| pack.place.is_none() && pack.name() == name.to_lowercase();
        let layers: Vec<_> = self.all().iter().filter(layer).collect();
        if layers.is_empty() { Ok(self.layers(Some(&name.parse()?))) } else { Ok(layers) }
    }

    /// Returns the place of a name that has no pack of its own.
    pub fn without_own_pack(&self, name: &str) -> Option<PlaceCode> {
        let place: PlaceCode = name.parse().ok()?;
        self.of(&place).is_none().then_some(place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_a_layer_or_a_place() {
        let packs = Packs::built_in().unwrap();
        let names =
            |name: &str| packs.named(name).unwrap().iter().map(|pack| pack.name()).collect::<Vec<_>>();
        assert_eq!(names("ADR"), ["adr"]);
        assert_eq!(names("*"), ["*"]);
        assert_eq!(names("fr"), ["*", "air", "adr", "EU"]);
        assert!(packs.named("Port Ellery").is_err());
        assert_eq!(packs.without_own_pack("FR").unwrap().as_str(), "FR");
        assert_eq!(packs.without_own_pack("DE"), None);
        assert_eq!(packs.without_own_pack("adr"), None);
    }
}
