-- A head count names the dive after which it was made, and may name everybody
-- whom it found. A roll call says whether somebody who is absent or left early
-- is aboard: only who is not aboard is no longer looked for.

ALTER TABLE head_count
    ADD dive_number integer CHECK (dive_number BETWEEN 1 AND 20), -- null: of another phase, or not named
    ADD CONSTRAINT head_count_names_its_dive CHECK (dive_number IS NULL OR phase = 'after_dive');

CREATE TABLE head_count_name (
    centre_id     uuid NOT NULL,
    head_count_id uuid NOT NULL,
    number        integer NOT NULL CHECK (number > 0), -- in the order of the count
    person_id     uuid,
    guest_id      uuid,
    accounted_for text CHECK (length(accounted_for) BETWEEN 1 AND 500), -- where they are, and who says so; null: seen aboard
    PRIMARY KEY (centre_id, head_count_id, number),
    FOREIGN KEY (centre_id, head_count_id) REFERENCES head_count,
    FOREIGN KEY (centre_id, person_id) REFERENCES person,
    FOREIGN KEY (centre_id, guest_id) REFERENCES outing_guest,
    CONSTRAINT head_count_name_of_one CHECK ((person_id IS NULL) <> (guest_id IS NULL))
);
CALL bind_to_centre('head_count_name', 'SELECT, INSERT');

-- true: aboard all the same; null: nothing is said, and the person is looked for.
ALTER TABLE roll_call
    ADD aboard boolean,
    ADD CONSTRAINT roll_call_not_aboard CHECK (aboard IS NOT FALSE OR attendance IN ('absent', 'left_early'));
