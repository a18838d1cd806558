CREATE TABLE public.actions (
    id bigint NOT NULL,
    chamber text NOT NULL COLLATE pg_catalog."C",
    deed text NOT NULL COLLATE pg_catalog."C",
    at bigint NOT NULL,
    note text NOT NULL COLLATE pg_catalog."C",
    recorded bigint NOT NULL,
    via text NOT NULL COLLATE pg_catalog."C",
    amount double precision,
    standing_g double precision,
    advised boolean DEFAULT false NOT NULL,
    corrects bigint,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE SEQUENCE public.actions_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.actions_id_seq OWNED BY public.actions.id;
CREATE TABLE public.answers (
    key text NOT NULL COLLATE pg_catalog."C",
    fingerprint text NOT NULL COLLATE pg_catalog."C",
    status bigint NOT NULL,
    body text NOT NULL COLLATE pg_catalog."C",
    kept bigint NOT NULL
);
CREATE TABLE public.calibrations (
    id bigint NOT NULL,
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    slope double precision NOT NULL,
    "offset" double precision NOT NULL,
    at bigint NOT NULL,
    who text NOT NULL COLLATE pg_catalog."C",
    how text NOT NULL COLLATE pg_catalog."C",
    recorded bigint NOT NULL
);
CREATE SEQUENCE public.calibrations_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.calibrations_id_seq OWNED BY public.calibrations.id;
CREATE TABLE public.counters (
    name text NOT NULL COLLATE pg_catalog."C",
    value bigint NOT NULL
);
CREATE TABLE public.entries (
    id bigint NOT NULL,
    batch bigint NOT NULL,
    kind text NOT NULL COLLATE pg_catalog."C",
    at bigint NOT NULL,
    recorded bigint NOT NULL,
    via text NOT NULL COLLATE pg_catalog."C",
    note text NOT NULL COLLATE pg_catalog."C",
    chamber text COLLATE pg_catalog."C",
    shelf text COLLATE pg_catalog."C",
    count bigint,
    other bigint,
    weight_g double precision,
    stage text COLLATE pg_catalog."C",
    flush bigint,
    sign text NOT NULL COLLATE pg_catalog."C",
    corrects bigint
);
CREATE SEQUENCE public.entries_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.entries_id_seq OWNED BY public.entries.id;
CREATE TABLE public.exchanges (
    id bigint NOT NULL,
    chamber text NOT NULL COLLATE pg_catalog."C",
    start bigint NOT NULL,
    "end" bigint NOT NULL,
    vented boolean NOT NULL,
    per_h double precision,
    low double precision,
    high double precision,
    r2 double precision,
    end_ppm double precision,
    inlet_ppm double precision,
    inlet_measured boolean NOT NULL,
    source_g_per_h double precision,
    refusal text NOT NULL COLLATE pg_catalog."C"
);
CREATE SEQUENCE public.exchanges_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.exchanges_id_seq OWNED BY public.exchanges.id;
CREATE TABLE public.foretold (
    id bigint NOT NULL,
    chamber text NOT NULL COLLATE pg_catalog."C",
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    side text NOT NULL COLLATE pg_catalog."C",
    "limit" double precision NOT NULL,
    at bigint NOT NULL,
    earliest bigint NOT NULL,
    likely bigint NOT NULL,
    latest bigint,
    told boolean NOT NULL,
    came bigint,
    outcome text NOT NULL COLLATE pg_catalog."C"
);
CREATE SEQUENCE public.foretold_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.foretold_id_seq OWNED BY public.foretold.id;
CREATE TABLE public.found (
    id bigint NOT NULL,
    chamber text NOT NULL COLLATE pg_catalog."C",
    kind text NOT NULL COLLATE pg_catalog."C",
    start bigint NOT NULL,
    "end" bigint NOT NULL,
    action bigint,
    confirmed boolean,
    humidity_before_pct double precision,
    humidity_after_pct double precision,
    vapour_gain_g_per_m3 double precision,
    co2_before_ppm double precision,
    co2_after_ppm double precision,
    held_s double precision,
    amount double precision
);
CREATE SEQUENCE public.found_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.found_id_seq OWNED BY public.found.id;
CREATE TABLE public.held (
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    since bigint NOT NULL,
    low double precision,
    high double precision
);
CREATE TABLE public.late (
    "time" bigint NOT NULL,
    series bigint NOT NULL,
    value double precision NOT NULL
);
CREATE TABLE public.migrations (
    name text NOT NULL COLLATE pg_catalog."C",
    applied bigint NOT NULL
);
CREATE TABLE public.moves (
    id bigint NOT NULL,
    reminder bigint NOT NULL,
    episode bigint NOT NULL,
    event text NOT NULL COLLATE pg_catalog."C",
    before text NOT NULL COLLATE pg_catalog."C",
    after text NOT NULL COLLATE pg_catalog."C",
    "time" bigint NOT NULL,
    cause text NOT NULL COLLATE pg_catalog."C",
    evidence_sensor text COLLATE pg_catalog."C",
    evidence_quantity text COLLATE pg_catalog."C",
    evidence_value double precision,
    evidence_low double precision,
    evidence_high double precision,
    evidence_trend_per_h double precision,
    evidence_since bigint
);
CREATE SEQUENCE public.moves_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.moves_id_seq OWNED BY public.moves.id;
CREATE TABLE public.outbox (
    id bigint NOT NULL,
    reminder bigint NOT NULL,
    episode bigint NOT NULL,
    address text NOT NULL COLLATE pg_catalog."C",
    title text NOT NULL COLLATE pg_catalog."C",
    body text NOT NULL COLLATE pg_catalog."C",
    priority bigint NOT NULL,
    state text NOT NULL COLLATE pg_catalog."C",
    created bigint NOT NULL,
    next_try bigint NOT NULL,
    tries bigint NOT NULL,
    expires bigint,
    again boolean NOT NULL,
    error text NOT NULL COLLATE pg_catalog."C",
    kind text DEFAULT 'reminder'::text NOT NULL COLLATE pg_catalog."C",
    chamber text DEFAULT ''::text NOT NULL COLLATE pg_catalog."C",
    sent bigint
);
CREATE SEQUENCE public.outbox_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.outbox_id_seq OWNED BY public.outbox.id;
CREATE TABLE public.photos (
    id bigint NOT NULL,
    entry bigint NOT NULL,
    digest text NOT NULL COLLATE pg_catalog."C",
    width bigint NOT NULL,
    height bigint NOT NULL,
    small_width bigint NOT NULL,
    small_height bigint NOT NULL,
    stored bigint NOT NULL,
    removed bigint
);
CREATE SEQUENCE public.photos_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.photos_id_seq OWNED BY public.photos.id;
CREATE TABLE public.readings (
    "time" bigint NOT NULL,
    series bigint NOT NULL,
    value double precision NOT NULL,
    timed boolean NOT NULL,
    raw double precision
);
CREATE TABLE public.rejects (
    id bigint NOT NULL,
    topic text NOT NULL COLLATE pg_catalog."C",
    "time" bigint NOT NULL,
    reason text NOT NULL COLLATE pg_catalog."C",
    excerpt text NOT NULL COLLATE pg_catalog."C"
);
CREATE SEQUENCE public.rejects_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.rejects_id_seq OWNED BY public.rejects.id;
CREATE TABLE public.reminders (
    id bigint NOT NULL,
    chamber text NOT NULL COLLATE pg_catalog."C",
    call text NOT NULL COLLATE pg_catalog."C",
    subject text NOT NULL COLLATE pg_catalog."C",
    state text NOT NULL COLLATE pg_catalog."C",
    active boolean NOT NULL,
    priority bigint NOT NULL,
    episode bigint NOT NULL,
    since bigint,
    moved bigint,
    told bigint,
    shelved_until bigint,
    evidence_sensor text COLLATE pg_catalog."C",
    evidence_quantity text COLLATE pg_catalog."C",
    evidence_value double precision,
    evidence_low double precision,
    evidence_high double precision,
    evidence_trend_per_h double precision,
    evidence_since bigint,
    repeats bigint DEFAULT 0 NOT NULL,
    out_until bigint,
    out_by text DEFAULT ''::text NOT NULL COLLATE pg_catalog."C",
    out_why text DEFAULT ''::text NOT NULL COLLATE pg_catalog."C"
);
CREATE SEQUENCE public.reminders_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.reminders_id_seq OWNED BY public.reminders.id;
CREATE TABLE public.series (
    id bigint NOT NULL,
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    newest_before bigint NOT NULL
);
CREATE SEQUENCE public.series_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.series_id_seq OWNED BY public.series.id;
CREATE TABLE public.starts (
    entry bigint NOT NULL,
    species text NOT NULL COLLATE pg_catalog."C",
    container text NOT NULL COLLATE pg_catalog."C",
    count bigint NOT NULL,
    substrate text NOT NULL COLLATE pg_catalog."C",
    strain text NOT NULL COLLATE pg_catalog."C",
    spawn text NOT NULL COLLATE pg_catalog."C",
    wet_g double precision,
    dry_g double precision,
    moisture_pct double precision,
    parent bigint,
    split_from bigint
);
CREATE TABLE public.summaries (
    length_s bigint NOT NULL,
    start_s bigint NOT NULL,
    quantity bigint NOT NULL,
    sensor bigint NOT NULL,
    number integer NOT NULL,
    "least" double precision NOT NULL,
    total double precision NOT NULL,
    most double precision NOT NULL,
    within integer NOT NULL,
    below integer NOT NULL,
    above integer NOT NULL
);
CREATE TABLE public.summed_sensors (
    id bigint NOT NULL,
    name text NOT NULL COLLATE pg_catalog."C"
);
CREATE SEQUENCE public.summed_sensors_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.summed_sensors_id_seq OWNED BY public.summed_sensors.id;
CREATE TABLE public.texts (
    name text NOT NULL COLLATE pg_catalog."C",
    value text NOT NULL COLLATE pg_catalog."C"
);
CREATE TABLE public.tokens (
    id bigint NOT NULL,
    name text NOT NULL COLLATE pg_catalog."C",
    digest text NOT NULL COLLATE pg_catalog."C",
    made bigint NOT NULL,
    used bigint,
    revoked bigint
);
CREATE SEQUENCE public.tokens_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.tokens_id_seq OWNED BY public.tokens.id;
CREATE TABLE public.undated (
    id bigint NOT NULL,
    boot text COLLATE pg_catalog."C",
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    value double precision NOT NULL,
    arrived_s double precision NOT NULL
);
CREATE SEQUENCE public.undated_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.undated_id_seq OWNED BY public.undated.id;
CREATE TABLE public.unsummed (
    start_s bigint NOT NULL,
    touched bigint NOT NULL,
    counting boolean NOT NULL
);
CREATE TABLE public.used_links (
    digest text NOT NULL COLLATE pg_catalog."C",
    used bigint NOT NULL
);
CREATE TABLE public.watched (
    sensor text NOT NULL COLLATE pg_catalog."C",
    quantity text NOT NULL COLLATE pg_catalog."C",
    side text NOT NULL COLLATE pg_catalog."C",
    level text NOT NULL COLLATE pg_catalog."C",
    active boolean NOT NULL,
    turning_since bigint
);
ALTER TABLE ONLY public.actions ALTER COLUMN id SET DEFAULT nextval('public.actions_id_seq'::regclass);
ALTER TABLE ONLY public.calibrations ALTER COLUMN id SET DEFAULT nextval('public.calibrations_id_seq'::regclass);
ALTER TABLE ONLY public.entries ALTER COLUMN id SET DEFAULT nextval('public.entries_id_seq'::regclass);
ALTER TABLE ONLY public.exchanges ALTER COLUMN id SET DEFAULT nextval('public.exchanges_id_seq'::regclass);
ALTER TABLE ONLY public.foretold ALTER COLUMN id SET DEFAULT nextval('public.foretold_id_seq'::regclass);
ALTER TABLE ONLY public.found ALTER COLUMN id SET DEFAULT nextval('public.found_id_seq'::regclass);
ALTER TABLE ONLY public.moves ALTER COLUMN id SET DEFAULT nextval('public.moves_id_seq'::regclass);
ALTER TABLE ONLY public.outbox ALTER COLUMN id SET DEFAULT nextval('public.outbox_id_seq'::regclass);
ALTER TABLE ONLY public.photos ALTER COLUMN id SET DEFAULT nextval('public.photos_id_seq'::regclass);
ALTER TABLE ONLY public.rejects ALTER COLUMN id SET DEFAULT nextval('public.rejects_id_seq'::regclass);
ALTER TABLE ONLY public.reminders ALTER COLUMN id SET DEFAULT nextval('public.reminders_id_seq'::regclass);
ALTER TABLE ONLY public.series ALTER COLUMN id SET DEFAULT nextval('public.series_id_seq'::regclass);
ALTER TABLE ONLY public.summed_sensors ALTER COLUMN id SET DEFAULT nextval('public.summed_sensors_id_seq'::regclass);
ALTER TABLE ONLY public.tokens ALTER COLUMN id SET DEFAULT nextval('public.tokens_id_seq'::regclass);
ALTER TABLE ONLY public.undated ALTER COLUMN id SET DEFAULT nextval('public.undated_id_seq'::regclass);
INSERT INTO public.actions VALUES (1, 'tent', 'misted', 1740830400250000, 'the "fine" nozzle', 1740830460250000, 'link', NULL, NULL, false, NULL, false);
INSERT INTO public.answers VALUES ('key', 'fingerprint', 201, '{"id": 1}', 1740830400250000);
INSERT INTO public.counters VALUES ('readings counted until', 1740830400000000);
INSERT INTO public.counters VALUES ('readings counted', 1);
INSERT INTO public.counters VALUES ('rejects', 1);
INSERT INTO public.counters VALUES ('summed up until', 1740830400);
INSERT INTO public.counters VALUES ('summed up from', 1740787200);
INSERT INTO public.entries VALUES (1, 1, 'started', 1740830400250000, 1740830460250000, 'page', 'first of the winter', 'tent', 'top', NULL, NULL, NULL, NULL, NULL, '', NULL);
INSERT INTO public.entries VALUES (2, 1, 'harvested', 1740830460250000, 1740830460250000, 'api', '', NULL, NULL, NULL, NULL, 612.5, NULL, 1, '', NULL);
INSERT INTO public.foretold VALUES (1, 'tent', 'top', 'humidity', 'low', 85, 1740830400250000, 1740831480250000, 1740831900250000, NULL, true, 1740832020250000, 'came');
INSERT INTO public.held VALUES ('top', 'humidity_pct', 1740830400250000, 88.3, NULL);
INSERT INTO public.migrations VALUES ('first tables', 1740830400250000);
INSERT INTO public.migrations VALUES ('what the air tells', 1740830400250000);
INSERT INTO public.migrations VALUES ('what grows', 1740830400250000);
INSERT INTO public.migrations VALUES ('what can be trusted', 1740830400250000);
INSERT INTO public.migrations VALUES ('what readings came to', 1740830400250000);
INSERT INTO public.migrations VALUES ('photos of notes', 1740830400250000);
INSERT INTO public.migrations VALUES ('what was put right', 1740830400250000);
INSERT INTO public.moves VALUES (1, 1, 3, 'raised', 'normal', 'unacknowledged', 1740830400250000, 'it''s 76 %; below 85 %', 'top', 'humidity', 76.3, 85, 95, -4.2, 1740830340250000);
INSERT INTO public.outbox VALUES (1, 1, 3, 'phone', 'Tent: mist now', 'Two squeezes.
Then look.', 3, 'waiting', 1740830400250000, 1740830460250000, 2, 1740834000250000, true, 'no answer', 'forecast', 'tent', 1740830400250000);
INSERT INTO public.photos VALUES (1, 2, '0000000000000000000000000000000000000000000000000000000000000000', 1600, 1200, 320, 240, 300000, 1740830460250000);
INSERT INTO public.readings VALUES (1740830400250000, 2, 17.5, true, NULL);
INSERT INTO public.readings VALUES (1740830400250000, 3, 88.1, true, NULL);
INSERT INTO public.readings VALUES (1740830460250000, 2, 17.625, false, NULL);
INSERT INTO public.readings VALUES (1740830460250000, 3, 88.225, false, NULL);
INSERT INTO public.readings VALUES (1740830520250000, 2, 17.75, true, NULL);
INSERT INTO public.readings VALUES (1740830520250000, 3, 88.35, true, NULL);
INSERT INTO public.readings VALUES (1740830580250000, 2, 17.875, true, NULL);
INSERT INTO public.readings VALUES (1740830580250000, 3, 88.475, true, NULL);
INSERT INTO public.readings VALUES (1740808800250000, 1, 830, true, NULL);
INSERT INTO public.rejects VALUES (1, 'home/top', 1740830400250000, 'not a number', '{"t": "warm"}');
INSERT INTO public.reminders VALUES (1, 'tent', 'mist', '', 'unacknowledged', true, 3, 3, 1740830400250000, 1740830460250000, 1740830520250000, NULL, 'top', 'humidity', 76.3, 85, 95, -4.2, 1740830340250000, 2, NULL, '', '');
INSERT INTO public.series VALUES (1, 'low', 'co2', 1740812400000000);
INSERT INTO public.series VALUES (2, 'top', 'temperature', 1740834000000000);
INSERT INTO public.series VALUES (3, 'top', 'humidity', 1740834000000000);
INSERT INTO public.starts VALUES (1, 'grey-oyster', 'sealed bag', 4, 'wheat “straw”', 'own', 'grain', 5200, 1800, 65, NULL, NULL);
INSERT INTO public.summaries VALUES (60, 1740808800, 3, 1, 1, 830, 830, 830, 0, 0, 0);
INSERT INTO public.summaries VALUES (900, 1740808800, 3, 1, 1, 830, 830, 830, 0, 0, 0);
INSERT INTO public.summaries VALUES (3600, 1740808800, 3, 1, 1, 830, 830, 830, 0, 0, 0);
INSERT INTO public.summed_sensors VALUES (1, 'low');
INSERT INTO public.texts VALUES ('link key', 'not a real key');
INSERT INTO public.texts VALUES ('air pressure of the summaries', '101325.0');
INSERT INTO public.undated VALUES (1, 'boot-7', 'low', 'co2', 900, 12.5);
INSERT INTO public.undated VALUES (2, NULL, 'low', 'co2', 910, 13.5);
INSERT INTO public.unsummed VALUES (1740807900, 1, false);
INSERT INTO public.unsummed VALUES (1740808800, 1, false);
INSERT INTO public.used_links VALUES ('digest', 1740830400250000);
INSERT INTO public.watched VALUES ('top', 'humidity', 'low', 'band', true, 1740830400250000);
SELECT pg_catalog.setval('public.actions_id_seq', 1, true);
SELECT pg_catalog.setval('public.calibrations_id_seq', 1, false);
SELECT pg_catalog.setval('public.entries_id_seq', 2, true);
SELECT pg_catalog.setval('public.exchanges_id_seq', 1, false);
SELECT pg_catalog.setval('public.foretold_id_seq', 1, true);
SELECT pg_catalog.setval('public.found_id_seq', 1, false);
SELECT pg_catalog.setval('public.moves_id_seq', 1, true);
SELECT pg_catalog.setval('public.outbox_id_seq', 1, true);
SELECT pg_catalog.setval('public.photos_id_seq', 1, true);
SELECT pg_catalog.setval('public.rejects_id_seq', 1, true);
SELECT pg_catalog.setval('public.reminders_id_seq', 1, true);
SELECT pg_catalog.setval('public.series_id_seq', 3, true);
SELECT pg_catalog.setval('public.summed_sensors_id_seq', 2, true);
SELECT pg_catalog.setval('public.tokens_id_seq', 1, false);
SELECT pg_catalog.setval('public.undated_id_seq', 2, true);
ALTER TABLE ONLY public.actions
    ADD CONSTRAINT actions_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.answers
    ADD CONSTRAINT answers_pkey PRIMARY KEY (key);
ALTER TABLE ONLY public.calibrations
    ADD CONSTRAINT calibrations_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.counters
    ADD CONSTRAINT counters_pkey PRIMARY KEY (name);
ALTER TABLE ONLY public.entries
    ADD CONSTRAINT entries_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.exchanges
    ADD CONSTRAINT exchanges_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.foretold
    ADD CONSTRAINT foretold_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.found
    ADD CONSTRAINT found_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.held
    ADD CONSTRAINT held_pkey PRIMARY KEY (sensor, quantity, since);
ALTER TABLE ONLY public.late
    ADD CONSTRAINT late_pkey PRIMARY KEY ("time", series);
ALTER TABLE ONLY public.migrations
    ADD CONSTRAINT migrations_pkey PRIMARY KEY (name);
ALTER TABLE ONLY public.moves
    ADD CONSTRAINT moves_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.outbox
    ADD CONSTRAINT outbox_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.photos
    ADD CONSTRAINT photos_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.readings
    ADD CONSTRAINT readings_pkey PRIMARY KEY ("time", series);
ALTER TABLE ONLY public.rejects
    ADD CONSTRAINT rejects_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.reminders
    ADD CONSTRAINT reminders_chamber_call_subject_key UNIQUE (chamber, call, subject);
ALTER TABLE ONLY public.reminders
    ADD CONSTRAINT reminders_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.series
    ADD CONSTRAINT series_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.series
    ADD CONSTRAINT series_sensor_quantity_key UNIQUE (sensor, quantity);
ALTER TABLE ONLY public.starts
    ADD CONSTRAINT starts_pkey PRIMARY KEY (entry);
ALTER TABLE ONLY public.summaries
    ADD CONSTRAINT summaries_pkey PRIMARY KEY (length_s, start_s, quantity, sensor);
ALTER TABLE ONLY public.summed_sensors
    ADD CONSTRAINT summed_sensors_name_key UNIQUE (name);
ALTER TABLE ONLY public.summed_sensors
    ADD CONSTRAINT summed_sensors_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.texts
    ADD CONSTRAINT texts_pkey PRIMARY KEY (name);
ALTER TABLE ONLY public.tokens
    ADD CONSTRAINT tokens_digest_key UNIQUE (digest);
ALTER TABLE ONLY public.tokens
    ADD CONSTRAINT tokens_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.undated
    ADD CONSTRAINT undated_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.unsummed
    ADD CONSTRAINT unsummed_pkey PRIMARY KEY (start_s);
ALTER TABLE ONLY public.used_links
    ADD CONSTRAINT used_links_pkey PRIMARY KEY (digest);
ALTER TABLE ONLY public.watched
    ADD CONSTRAINT watched_pkey PRIMARY KEY (sensor, quantity, side, level);
CREATE UNIQUE INDEX actions_by_corrected ON public.actions USING btree (corrects);
CREATE INDEX actions_by_time ON public.actions USING btree (at);
CREATE INDEX calibrations_of_sensor ON public.calibrations USING btree (sensor, quantity, at);
CREATE INDEX entries_of_batch ON public.entries USING btree (batch);
CREATE INDEX exchanges_in_chamber ON public.exchanges USING btree (chamber, start);
CREATE INDEX foretold_in_chamber ON public.foretold USING btree (chamber, at);
CREATE INDEX found_by_time ON public.found USING btree (start);
CREATE INDEX found_in_chamber ON public.found USING btree (chamber, start);
CREATE INDEX moves_by_time ON public.moves USING btree ("time");
CREATE INDEX moves_of_reminder ON public.moves USING btree (reminder);
CREATE INDEX outbox_by_state ON public.outbox USING btree (state, next_try);
CREATE INDEX outbox_by_time ON public.outbox USING btree (created);
CREATE INDEX photos_of_entry ON public.photos USING btree (entry);
ALTER TABLE ONLY public.late
    ADD CONSTRAINT late_series_fkey FOREIGN KEY (series) REFERENCES public.series(id);
ALTER TABLE ONLY public.moves
    ADD CONSTRAINT moves_reminder_fkey FOREIGN KEY (reminder) REFERENCES public.reminders(id);
ALTER TABLE ONLY public.photos
    ADD CONSTRAINT photos_entry_fkey FOREIGN KEY (entry) REFERENCES public.entries(id);
ALTER TABLE ONLY public.readings
    ADD CONSTRAINT readings_series_fkey FOREIGN KEY (series) REFERENCES public.series(id);
ALTER TABLE ONLY public.starts
    ADD CONSTRAINT starts_entry_fkey FOREIGN KEY (entry) REFERENCES public.entries(id);
