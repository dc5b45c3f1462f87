package triage

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWordsWithoutPower: each of these is made on a device without power, by its wording
// alone; with any of the others beside it, it is not. Common practice, no source; invented.
func TestWordsWithoutPower(t *testing.T) {
	for _, text := range []string{"Rail resistance", "The resistor R5", "Insulation", "Continuity of the lead", "Diode drop of D4", "In diode mode",
		"Capacitance of C2", "Look inside", "Under the lens", "Inspect the board", "Smell the coil", "With a magnifier", "Under the microscope",
		"The joint of J3", "Solder at U2", "The fuse F1", "Is it short to ground", "A short check of the rail", "Earth to the frame",
		"Discharge C1", "C7 out of circuit", "Desolder C7", "One leg lifted", "A torn ribbon", "Is C9 swollen", "Corrosion at J2",
		"Crust at the socket", "A leak at the seal", "A bent pin", "A crack in the board", "Every screw", "Each fastener", "Clean the contacts",
		"Unplugged", "Unpowered", "The tray", "Widerstand von R5", "Isolation", "Durchgang der Leitung", "Kapazität von C2", "Ansehen",
		"Mit der Lupe", "Riechen", "Lötstelle an J3", "Sicherung F1", "Gegen Masse", "Gegen Erde", "C1 entladen", "Ausgesteckt",
		"Résistance de R5", "Isolement", "Continuité du cordon", "Capacité de C2", "Regarder", "À la loupe", "Une odeur", "La soudure de J3",
		"Le fusible", "La terre", "Débranché"} {
		assert.True(t, needsNoPower(words(text)), text)
	}
	for _, text := range []string{"voltage at the rail", "ripple", "current of the motor", "power up", "while powered", "switch on", "after it is switched on",
		"when warm", "hot after an hour", "while it is running", "as it runs", "under load", "with a load", "how it plays", "a signal", "supply on",
		"bench supply", "on the adapter", "on the charger", "while on charge", "the offset", "its temperature", "inject 1 V", "thermal camera",
		"with a torch", "another pack", "on the mains", "live", "Spannung", "Strom", "einschalten", "eingeschaltet", "es läuft", "unter Last",
		"beim Laden", "am Ladegerät", "am Netzteil", "Wärmebild", "la tension", "le courant", "allumé", "en marche", "en charge", "au chargeur",
		"sur secteur"} {
		assert.False(t, needsNoPower(words("Look at the joint, "+text)), text)
	}
	assert.True(t, needsNoPower(words("Look at the joint, ")))
	for _, text := range []string{"Desolder C7", "Unsolder C7", "Lift a leg", "One leg lifted", "Cut the sleeve open", "Cut the track", "Cut the wire",
		"C7 out of circuit", "Taken off the board", "Taken out of the case", "Replace C7", "Swap a part", "Scrape the mask", "Drill it out", "Peel the label",
		"C7 auslöten", "C7 ausgelötet", "Ein Bein abheben", "Die Bahn trennen", "Hülle aufschneiden", "Dessouder C7", "C7 dessoudé", "Couper la piste", "C7 déposé"} {
		assert.True(t, isInvasive(words(text)), text)
	}
	assert.False(t, isInvasive(words("Look at C7")))
}

// TestWhatComesFirst: each of these checks waits for another, and each of the others is
// what it waits for. Common practice, no source; invented.
func TestWhatComesFirst(t *testing.T) {
	rules := stepPrerequisites()
	require.Len(t, rules, 4)
	for i, want := range []struct {
		do, why    string
		when, done []string
	}{
		{"Check the supply for a short to ground, unpowered", "power into a short",
			[]string{"Power up", "Ripple, powered", "Switch it on", "Rail under load", "Adapter under load", "From a bench supply", "Apply power", "A live reading",
				"Unter Spannung", "Einschalten", "Unter Last", "Am Labornetzgerät", "Mettre sous tension", "En charge", "Alimenter la carte"},
			[]string{"Resistance to ground", "Short to ground", "A short check", "Resistance of the rail", "An insulation test", "Widerstand gegen Masse",
				"Kurzschluss gegen Masse", "Résistance vers masse", "Court-circuit vers masse"}},
		{"Test insulation and protective earth, unplugged", "a live metal part",
			[]string{"Mains on", "Plug it in to the mains", "On the variac", "Isolating transformer", "Netz an", "Trenntransformator", "Secteur branché", "Transformateur isolement"},
			[]string{"An insulation test", "Earth continuity", "Protective earth", "Isolationsprüfung", "Schutzleiter", "Isolement vers terre", "Terre de protection"}},
		{"Discharge the reservoir capacitors and measure that they are empty", "they hold their charge",
			[]string{"Capacitor resistance", "Diode drop", "The reservoir", "Capacitance of the reservoir", "The primary side", "Der Ladekondensator", "Auf der Primärseite",
				"Condensateur réservoir", "Au primaire"},
			[]string{"Discharge it", "C1 entladen", "Décharger C1", "C1 déchargé"}},
		{"Look at the cells for swelling and leaks, and measure each at rest", "a hurt lithium cell",
			[]string{"Charge the pack", "Charge the cell", "The pack on charge", "Charger and pack", "Akku laden", "Zelle laden", "Charger la batterie", "Charger l accu"},
			[]string{"Look at the pack", "Is it swollen", "Look at the cells", "The cells one by one", "The pack at rest", "Akku ansehen", "Zellen einzeln", "Gonflé", "Éléments un par un"}},
	} {
		rule := rules[i]
		assert.Equal(t, want.do, rule.Do)
		assert.Contains(t, rule.Why, want.why)
		for _, text := range want.when {
			assert.True(t, rule.applies(words(text)), "%q waits for: %s", text, want.do)
		}
		for _, text := range want.done {
			assert.True(t, rule.satisfies(text), "%q is: %s", text, want.do)
		}
		assert.False(t, rule.applies(words("Wiggle the knob")))
		assert.False(t, rule.satisfies("Wiggle the knob"))
	}
}
