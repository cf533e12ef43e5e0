-- Places whose plots the bell must look at anew, because their weather, figures or weed rate changed. The row is the
-- rest of that work: it is done a few growers at a time, and goes on where it stopped.

-- +goose Up
CREATE TABLE place_look (
	place_id      bigint PRIMARY KEY REFERENCES place (id) ON DELETE CASCADE,
	asked_at      bigint NOT NULL, -- the plots are due from then on
	planted_until bigint NOT NULL, -- plots that were planted later are left out
	after_grower  bigint NOT NULL  -- growers up to this id are done
);

-- +goose Down
DROP TABLE place_look;
