-- What a private link opens: a session on a phone, or a calendar of sessions.

ALTER TABLE phone_link ADD COLUMN opens TEXT NOT NULL DEFAULT 'session' CHECK (opens IN ('session', 'calendar'));
