-- More of version 2, beside 2.sql: rows for tables that are empty there, and values at their ends.
INSERT INTO series (id, sensor, quantity, newest_before) VALUES (11, 'Käfig „links“', 'humidity', 1893459600000000);
INSERT INTO readings (time, series, value, timed) VALUES (-86400000001, 11, 0.0, 1);
INSERT INTO readings (time, series, value, timed) VALUES (1893456000000000, 11, 1.7976931348623157e308, 0);
INSERT INTO undated (id, boot, sensor, quantity, value, arrived_s) VALUES (70, 'boot-9', 'Käfig „links“', 'humidity', -0.125, 1e-9);
INSERT INTO watched (sensor, quantity, side, level, active, turning_since) VALUES ('Käfig „links“', 'humidity', 'high', 'harm', 0, NULL);
INSERT INTO reminders (id, chamber, call, subject, state, active, priority, episode) VALUES (9, 'room', 'unheard', 'Käfig „links“', 'normal', 0, 1, 0);
INSERT INTO moves (id, reminder, episode, event, before, after, time, cause) VALUES (40, 9, 1, 'returned', 'unacknowledged', 'normal', 1740830999999999, 'it''s heard again; "at last"
on two lines');
INSERT INTO outbox (id, reminder, episode, address, title, body, priority, state, created, next_try, tries, expires, again, error) VALUES (90, 9, 1, 'phone-2', '', '日本語 ☂', 1, 'dropped', 1740830400000001, 1740830400000001, 0, NULL, 0, '');
INSERT INTO actions (id, chamber, deed, at, note, recorded, via) VALUES (50, 'tent', 'vented', 1740830400000000, '', 1740830400000000, 'api');
INSERT INTO rejects (id, topic, time, reason, excerpt) VALUES (201, '$odd/🍄', 1740830400000000, 'not JSON', '\x00?');
INSERT INTO texts (name, value) VALUES ('passcode', '$argon2id$v=19$not-a-real-one');
INSERT INTO used_links (digest, used) VALUES ('ffff', 0);
INSERT INTO answers (key, fingerprint, status, body, kept) VALUES ('k e y', '', 409, '', 1740830400000000);
INSERT INTO counters (name, value) VALUES ('readings of another time', -1);
UPDATE readings SET raw = 0.5 WHERE time = -86400000001;
INSERT INTO calibrations (id, sensor, quantity, slope, offset, at, who, how, recorded) VALUES (3, 'top', 'humidity', 1.0125, -1.75, 1740830400000000, 'Ann', 'NaCl at 20.4 °C: 77.1', 1740830460000000);
UPDATE actions SET amount = 12.5, standing_g = 3.25, advised = 1 WHERE id = 50;
INSERT INTO found (id, chamber, kind, start, "end", action, confirmed, humidity_before_pct, humidity_after_pct, vapour_gain_g_per_m3, co2_before_ppm, co2_after_ppm, held_s, amount) VALUES (4, 'tent', 'misted', 1740830400000000, 1740830460000000, 50, NULL, 80.5, 93.25, 1.5, NULL, NULL, 3600.0, 2.0);
INSERT INTO found (id, chamber, kind, start, "end", action, confirmed) VALUES (5, 'tent', 'vented', 1740834000000000, 1740834060000000, NULL, 0);
INSERT INTO exchanges (id, chamber, start, "end", vented, per_h, low, high, r2, end_ppm, inlet_ppm, inlet_measured, source_g_per_h, refusal) VALUES (6, 'tent', 1740830400000000, 1740834000000000, 0, 0.875, 0.5, 1.25, 0.97, 940.0, 430.0, 0, 0.04, '');
INSERT INTO exchanges (id, chamber, start, "end", vented, inlet_measured, refusal) VALUES (7, 'tent', 1740834000000000, 1740837600000000, 1, 1, 'too short');
