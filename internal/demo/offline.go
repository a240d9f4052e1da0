package demo

import (
	"fmt"
	"strings"
	"time"
)

// withoutCoverage plays the pool without coverage: Abel's phone sends late, with a slow
// clock, and twice. Its entries, and Lars's sign-offs, wait for entries that are still
// on the other phone.
func (s *story) withoutCoverage(k skill) {
	const slow = 20 // Abel's phone is twenty minutes slow
	session, now := s.ids["Evening pool"], at(4, "18:50")
	s.note("There is no coverage at the evening pool. Abel came along to help, and nobody had planned it.")
	entry := func(kind, witnessed string, more object) object {
		more["witnessed_at"] = witnessed
		return object{"id": newID(), "kind": kind, "session_id": session, "body": more}
	}
	send := func(who string, minutes int, entries ...object) answer {
		return s.must(who, post, "/v1/batches",
			object{"device_id": who + "'s phone", "sent_at": later(now, -minutes), "entries": entries})
	}
	part := s.participant("Evening pool", "Tomas")
	seen := entry("drill_attempt", later(at(4, "18:05"), -slow),
		object{"participant_id": part, "skill": k.code, "met": true,
			"measures": append([]object{}, k.measures...)})
	gas := entry("gas_check", later(at(4, "18:06"), -slow),
		object{"participant_id": part, "reading": object{"value": 187, "unit": "bar"},
			"signalled": object{"value": 180, "unit": "bar"}})
	s.became(send("Abel", slow, seen, gas), "held",
		"Abel's phone is back first. It sends what he saw of Tomas; but the service knows nothing of Abel "+
			"being there, and holds it.")
	signed := object{"id": newID(), "kind": "sign_off", "session_id": session, "signed_at": at(4, "18:30"),
		"body": object{"enrolment_id": s.ids["enrolment Tomas"], "skill": k.code}}
	s.became(send("Lars", 0, signed), "held",
		fmt.Sprintf("Lars' phone sends his sign-off of %q, made at the pool: held too, "+
			"for there is no attempt on record yet.", k.code))
	held := s.must("Mara", get, "/v1/held-entries", nil).items()
	s.expect(len(held) == 3, "%d entries are held, not 3", len(held))
	came := entry("roll_call", at(4, "17:50"),
		object{"attendance": "present",
			"unexpected": object{"person_id": s.people["Abel"], "role": "assistant"}})
	s.became(send("Lars", 0, came), "recorded",
		"Then comes his roll call, with Abel on it: the attempt and the gas check stand within a moment, "+
			"and so does the sign-off.")
	// judged in the background
	for tries := 0; len(s.must("Mara", get, "/v1/held-entries", nil).items()) > 0; tries++ {
		s.expect(tries < 100, "something is still held")
		time.Sleep(100 * time.Millisecond)
	}
	s.became(send("Abel", slow, gas, seen), "already_recorded",
		"Abel's phone did not hear the answer and sends it all again, the other way round: "+
			"nothing is doubled.")
	e := s.must("Lars", get, "/v1/entries/"+fmt.Sprint(gas["id"]), nil)
	s.expect(e.body["witnessed_at"] == at(4, "18:06") && e.body["correction_s"] == float64(slow*60),
		"the clock came out as %v, %v", e.body["witnessed_at"], e.body["correction_s"])
	s.note("His clock was twenty minutes slow; the times are corrected, and both are kept.")
	s.oneBroken(entry)
	s.setRight(entry)
}

// oneBroken sends an entry that no service could read beside a valid one.
func (s *story) oneBroken(entry func(kind, witnessed string, more object) object) {
	part := s.participant("Evening pool", "Tomas")
	good := entry("gas_check", at(4, "18:12"),
		object{"participant_id": part, "reading": object{"value": 176, "unit": "bar"},
			"signalled": object{"value": 170, "unit": "bar"}})
	broken := entry("bubble_count", at(4, "18:13"), object{"participant_id": part})
	a := s.must("Lars", post, "/v1/batches", object{"device_id": "Lars's phone", "sent_at": at(4, "18:50"),
		"entries": []object{broken, good}})
	got := a.items()
	s.expect(len(got) == 2 && got[0]["status"] == "refused" && got[1]["status"] == "recorded",
		"the broken entry and the one beside it came out as %v", got)
	kept := s.must("Mara", get, "/v1/held-entries?state=refused", nil).items()
	s.expect(len(kept) == 1 && kept[0]["entry_id"] == broken["id"] && kept[0]["sent"] != nil,
		"the broken entry was not kept as it was sent")
	s.tell("✓", "%s", "A new app on Lars' phone sends an entry of a kind that nobody knows, "+
		"and a gas check. The first is refused alone, and kept for Mara to look at; the check stands.")
}

// setRight sends from a phone whose clock the network corrected just before.
func (s *story) setRight(entry func(kind, witnessed string, more object) object) {
	const slow, minute = 20, 60 * 1000
	part, clock, now := s.participant("Evening pool", "Tomas"), newID(), at(4, "18:50")
	e := entry("gas_check", later(at(4, "18:14"), -slow),
		object{"participant_id": part, "reading": object{"value": 170, "unit": "bar"},
			"signalled": object{"value": 170, "unit": "bar"}})
	e["clock"] = object{"id": clock, "ticks_ms": 10 * minute}
	a := s.must("Abel", post, "/v1/batches",
		object{"device_id": "Abel's phone", "sent_at": now,
			"clocks":  []object{{"id": clock, "ticks_ms": 46 * minute}},
			"entries": []object{e}})
	s.became(a, "recorded", "Abel's phone has coverage again and sets its own clock right "+
		"before it sends the last check. It had been timed by a clock that nobody sets:")
	h := s.must("Lars", get, "/v1/entries/"+fmt.Sprint(e["id"]), nil)
	s.expect(strings.HasPrefix(fmt.Sprint(h.body["witnessed_at"]), "2027-06-04T18:14:") &&
		h.body["doubt"] == "ticks_differ", "the time came out as %v, doubted as %v",
		h.body["witnessed_at"], h.body["doubt"])
	s.note("The check stands at the minute at which it was made, and not twenty minutes early; " +
		"both times are kept, and the entry says that they differ.")
}

// became checks the status of the entries of a batch, and prints the step.
func (s *story) became(a answer, status, text string) {
	for _, r := range a.items() {
		if r["status"] != status {
			s.fail("%s: an entry was %v, not %s: %v", text, r["status"], status, r["problem"])
			return
		}
	}
	s.tell("✓", "%s", text)
}
