UPDATE gas_settings SET confined_floor = '{"value": 600, "unit": "psi"}' WHERE centre_id = app_centre();
