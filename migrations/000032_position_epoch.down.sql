DROP TABLE position_epoch;
DROP FUNCTION app_cluster();
