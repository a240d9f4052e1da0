-- What a token sent and waits, or was refused within a day, is counted before
-- more is kept: the batches of a token by their time, and the refused entries of
-- a batch.

CREATE INDEX water_batch_by_token ON water_batch (centre_id, token_id, received_at);
CREATE INDEX water_entry_refused ON water_entry (centre_id, batch_id) WHERE state = 'refused';
