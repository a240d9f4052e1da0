-- Nothing to take back: the release before this one reads an empty list as well.
SELECT 1;
