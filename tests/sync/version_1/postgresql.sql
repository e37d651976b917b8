CREATE TABLE about (
    name text NOT NULL,
    value text NOT NULL
);
CREATE TABLE change_log (
    "position" bigint NOT NULL,
    id text NOT NULL,
    hash text NOT NULL,
    chain text NOT NULL,
    record text NOT NULL,
    kind text NOT NULL,
    device text NOT NULL,
    received_at text NOT NULL,
    body text
);
CREATE TABLE counter (
    number integer NOT NULL,
    "position" bigint NOT NULL,
    chain text NOT NULL,
    epoch text NOT NULL,
    lamport bigint NOT NULL
);
CREATE TABLE held (
    number integer NOT NULL,
    id text NOT NULL,
    stated_hash text NOT NULL,
    raw_hash text NOT NULL,
    body bytea NOT NULL,
    device text NOT NULL,
    reason text NOT NULL,
    received_at text NOT NULL,
    resolved_at text NOT NULL
);
CREATE SEQUENCE held_number_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE held_number_seq OWNED BY held.number;
CREATE TABLE ref (
    record text NOT NULL,
    field text NOT NULL,
    target text NOT NULL
);
CREATE TABLE snapshot (
    record text NOT NULL,
    kind text NOT NULL,
    "position" bigint NOT NULL,
    json text NOT NULL
);
ALTER TABLE ONLY held ALTER COLUMN number SET DEFAULT nextval('held_number_seq'::regclass);
ALTER TABLE ONLY about
    ADD CONSTRAINT about_pkey PRIMARY KEY (name);
ALTER TABLE ONLY change_log
    ADD CONSTRAINT change_log_pkey PRIMARY KEY ("position");
ALTER TABLE ONLY counter
    ADD CONSTRAINT counter_pkey PRIMARY KEY (number);
ALTER TABLE ONLY held
    ADD CONSTRAINT held_pkey PRIMARY KEY (number);
ALTER TABLE ONLY ref
    ADD CONSTRAINT ref_pkey PRIMARY KEY (record, field, target);
ALTER TABLE ONLY snapshot
    ADD CONSTRAINT snapshot_pkey PRIMARY KEY (record);
CREATE UNIQUE INDEX changelog_id ON change_log USING btree (id);
CREATE INDEX changelog_record_position ON change_log USING btree (record, "position");
CREATE INDEX held_id ON held USING btree (id);
CREATE UNIQUE INDEX held_raw_hash_stated_hash ON held USING btree (raw_hash, stated_hash);
CREATE INDEX held_resolved_at ON held USING btree (resolved_at);
CREATE INDEX ref_target_field_record ON ref USING btree (target, field, record);
CREATE INDEX snapshot_kind_position ON snapshot USING btree (kind, "position");
CREATE UNIQUE INDEX snapshot_position ON snapshot USING btree ("position");
