-- More of version 1, beside 1.sql: rows for tables that are empty there, and values at their ends.
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
