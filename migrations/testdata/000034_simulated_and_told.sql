INSERT INTO briefing_person (centre_id, briefing_id, person_id, gauge_unit, figures, digest)
VALUES (app_centre(), 'f1000000-0000-0000-0000-000000000001', 'a0000000-0000-0000-0000-000000000001', 'bar',
    '[{"dive_id": null, "plan_id": null, "start": null, "turn": {"value": 120, "unit": "bar"}, "low": {"value": 60, "unit": "bar"}}]', '\x02');
