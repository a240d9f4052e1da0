-- How a diver reported their gas: with one hand, with both, or by showing the
-- gauge itself. Null where nobody noted it, as in every check before.

ALTER TABLE gas_check ADD COLUMN signalled_with text CHECK (signalled_with IN ('one_hand', 'two_hands', 'gauge'));
