"""What flies: the drag of the airframe and the speeds at which it balances the thrust."""
