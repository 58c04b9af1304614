"""The robot on trial: a physics engine drives the body that the layout describes, with what its controller computes."""
